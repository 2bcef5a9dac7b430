"""Every position by how much it is exposed: the list that a manager should see first."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from drives.demand.importance import RANK
from drives.exposure.chance import Chance, chance_unserved
from drives.exposure.risk_inputs import Outlook, Pile, Place
from inventory.interchange.vocabulary import GRADE_RANK, Grade

CENT = Decimal("0.01")


@dataclass(frozen=True)
class CoveringItem:
    """An item that can serve the position, with its free pieces wherever they lie."""

    item_id: int
    stock_number: str
    grade: str
    piles: tuple[Pile, ...]

    @property
    def available(self) -> int:
        return sum(pile.available for pile in self.piles)


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How exposed one position is; what is None is not known, which is not nothing."""

    place: Place
    chance: Chance | None
    lead_time_days: float | None
    lead_time_item: str
    """The item that can be there soonest, and so ends the time looked at."""
    expected_cost: Decimal | None
    covers: tuple[CoveringItem, ...]
    sentence: str

    @property
    def needs_transfer(self) -> bool:
        """Free pieces there are, but none in the storeroom that serves this plant."""
        piles = [pile for cover in self.covers for pile in cover.piles]
        return bool(piles) and all(pile.storeroom != self.place.storeroom for pile in piles)

    @property
    def weight(self) -> Decimal | None:
        """Chance times cost of an hour: it ranks like money, also where the hours to expedite are not known."""
        if self.chance is None or self.place.cost_per_hour is None:
            return None
        return Decimal(repr(self.chance.value)) * self.place.cost_per_hour


def standings(outlook: Outlook, *, among: Iterable[int] | None = None) -> list[Standing]:
    """Positions (all by default), the most exposed first, in three parts that are not mixed.

    First those whose cost is known, by expected cost of an hour (the most used currency first); then those whose downtime
    has no price, by criticality and chance; last those whose chance cannot be worked out, by criticality.
    """
    chosen = outlook.places if among is None else among
    found = [standing(outlook, position) for position in chosen]
    used = Counter(row.place.currency for row in found if row.weight is not None)
    return sorted(found, key=lambda row: _key(row, used))


def _key(row: Standing, used: Counter[str]) -> tuple[object, ...]:
    rank = RANK[row.place.criticality]
    if row.chance is None:
        return (2, rank, row.place.tag)
    if row.weight is None:
        return (1, rank, -row.chance.value, row.place.tag)
    return (0, -used[row.place.currency], row.place.currency, -row.weight, rank, row.place.tag)


def standing(outlook: Outlook, position: int) -> Standing:
    """One position; its time runs until the next piece of any item that serves it can be there."""
    place = outlook.places[position]
    covers = _covers(outlook, position)
    times = [
        (days, cover.stock_number)
        for cover in covers
        if (days := outlook.days_to(cover.item_id, position)) is not None
    ]
    days, soonest = min(times, default=(None, ""))
    chance = None
    if days is not None and position in outlook.asks:
        chance = chance_unserved(position, outlook.shelves, lambda other: outlook.law(other, days))
    return Standing(
        place=place,
        chance=chance,
        lead_time_days=days,
        lead_time_item=soonest,
        expected_cost=_cost(place, chance, outlook.hours_to_expedite),
        covers=covers,
        sentence=_sentence(place, chance, days, covers),
    )


def _covers(outlook: Outlook, position: int) -> tuple[CoveringItem, ...]:
    rows = [
        CoveringItem(item, outlook.stock_numbers[item], grade, outlook.piles.get(item, ()))
        for item, grade in outlook.grades.get(position, {}).items()
    ]
    return tuple(
        sorted(rows, key=lambda row: (GRADE_RANK[Grade(row.grade)], -row.available, row.stock_number))
    )


def _cost(place: Place, chance: Chance | None, hours: float | None) -> Decimal | None:
    if chance is None or place.cost_per_hour is None or hours is None:
        return None
    cost = Decimal(repr(chance.value)) * place.cost_per_hour * Decimal(repr(hours))
    return cost.quantize(CENT, ROUND_HALF_UP)


def _sentence(
    place: Place, chance: Chance | None, days: float | None, covers: tuple[CoveringItem, ...]
) -> str:
    if not covers:
        return f"No item in the catalogue serves {place.tag}: what would be bought for it is not known."
    if days is None:
        return f"When more of {covers[0].stock_number} could be here is not known: enter its lead time."
    if chance is None:
        return "It is not in use, or its part is not known: what it asks for cannot be told."
    bound = "" if chance.is_exact else " at most (too many parts are shared to work it out exactly)"
    free = sum(cover.available for cover in covers)
    lie = "none is free on any shelf" if not free else f"{free} free"
    return (
        f"{place.tag} asks for a piece within {days:.0f} days with a chance of {chance.asks:.1%} and finds none with"
        f" {chance.value:.2g}{bound}; {lie}."
    )

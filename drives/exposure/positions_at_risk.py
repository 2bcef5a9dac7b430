"""Every position by how exposed it is, the most exposed first."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from functools import partial

from drives.demand.importance import CRITICALITY_RANK
from drives.exposure.position_years import PositionYear
from drives.exposure.risk_inputs import HOURS_PER_DAY, RiskInputs, RiskPosition, StoreroomStock
from drives.exposure.unserved_chance import UnservedChance, chances_unserved
from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.progress import Progress, stretches, unreported

CENT = Decimal("0.01")
MOST_COVERS = 3
"""Parts listed of one position: a list of positions stays readable whatever serves them."""
MOST_STOREROOMS = 3
"""Listed of one part."""


@dataclass(frozen=True)
class CoveringItem:
    """An item that can serve the position, with its available pieces in every storeroom."""

    item_id: int
    stock_number: str
    grade: str
    stock: tuple[StoreroomStock, ...]
    available: int
    """In all storerooms, also those that a list leaves out."""
    further_storerooms: int = 0

    @property
    def within_reach(self) -> int:
        return sum(one.available for one in self.stock if one.minutes is not None)


@dataclass(frozen=True, kw_only=True)
class PositionRisk:
    """How exposed one position is; None means not known, which is not zero."""

    position: RiskPosition
    chance: UnservedChance | None
    lead_time_days: float | None
    lead_time_item: str
    """The item that can be there soonest, and so ends the time considered."""
    hours_to_wait: float | None
    """The shortest wait for any item that serves it, where none is there, and no longer than until the next piece is."""
    expected_cost: Decimal | None
    covers: tuple[CoveringItem, ...]
    nearest: StoreroomStock | None
    """The nearest storeroom with an available piece; None where none is within reach."""
    needs_transfer: bool
    """Pieces are available, but none in the storeroom that serves this plant."""
    reason: Fact
    year: PositionYear | None = None
    further_covers: int = 0

    @property
    def hourly_cost(self) -> Decimal | None:
        """Chance times cost of an hour: it ranks like money, even where the hours to wait are not known."""
        per_hour = self.position.downtime_cost_per_hour
        if self.chance is None or per_hour is None:
            return None
        return Decimal(repr(self.chance.value)) * per_hour


def positions_at_risk(inputs: RiskInputs, progress: Progress = unreported) -> list[PositionRisk]:
    """Every position, in the order of `ranked`."""
    return ranked(position_risks(inputs, inputs.positions, progress))


def position_risks(
    inputs: RiskInputs, positions: Iterable[int], progress: Progress = unreported
) -> list[PositionRisk]:
    """What positions with the same days share is worked out once."""
    covers = {position: _covers(inputs, position) for position in positions}
    soonest = {position: _soonest(inputs, position, found) for position, found in covers.items()}
    with_days: dict[float, list[int]] = defaultdict(list)
    for position, (days, _) in soonest.items():
        if days is not None and position in inputs.demands:
            with_days[days].append(position)
    chances = _chances(inputs, with_days, progress)
    return [
        _position_risk(inputs, position, found, soonest[position], chances.get(position))
        for position, found in covers.items()
    ]


def _chances(
    inputs: RiskInputs, with_days: Mapping[float, Sequence[int]], progress: Progress
) -> dict[int, UnservedChance]:
    chances: dict[int, UnservedChance] = {}
    parts = stretches(progress, *(len(some) for some in with_days.values()))
    for (days, some), told in zip(with_days.items(), parts, strict=True):
        inputs.prepare(inputs.cover.linked(some), days)
        demand = partial(inputs.demand_over, days=days)
        chances |= chances_unserved(some, inputs.cover, demand, progress=told)
    return chances


def _soonest(inputs: RiskInputs, position: int, covers: Iterable[CoveringItem]) -> tuple[float | None, str]:
    """The days until the next piece of any item that serves it can be there, and that item."""
    times = [
        (days, cover.stock_number)
        for cover in covers
        if (days := inputs.days_to(cover.item_id, position)) is not None
    ]
    return min(times, default=(None, ""))


def ranked(risks: Iterable[PositionRisk]) -> list[PositionRisk]:
    """The most exposed first, in four parts that are not mixed.

    First those whose cost is known, by that cost (the most used currency first), and those of which only the cost of an hour
    is; then those whose downtime has no price, by criticality and chance; last those whose chance cannot be calculated, by
    criticality.
    """
    found = list(risks)
    used = Counter(risk.position.currency for risk in found if risk.hourly_cost is not None)
    return sorted(found, key=lambda risk: _worst_first(risk, used))


def _worst_first(risk: PositionRisk, used: Counter[str]) -> tuple[object, ...]:
    rank, currency = CRITICALITY_RANK[risk.position.criticality], risk.position.currency
    if risk.chance is None:
        return (3, rank, risk.position.tag)
    if risk.hourly_cost is None:
        return (2, rank, -risk.chance.value, risk.position.tag)
    is_cost_known = risk.expected_cost is not None
    cost = risk.expected_cost if is_cost_known else risk.hourly_cost
    assert cost is not None
    return (0 if is_cost_known else 1, -used[currency], currency, -cost, -risk.hourly_cost, risk.position.tag)


def _position_risk(
    inputs: RiskInputs,
    position: int,
    covers: tuple[CoveringItem, ...],
    soonest: tuple[float | None, str],
    chance: UnservedChance | None,
) -> PositionRisk:
    days, item = soonest
    waits = [hours for cover in covers if (hours := inputs.hours_to(cover.item_id, position)) is not None]
    hours = min([*waits, days * HOURS_PER_DAY], default=None) if waits and days is not None else None
    found, nearest = inputs.positions[position], nearest_of(covers)
    rooms = {one.storeroom for cover in covers for one in cover.stock}
    reason = _reason(found, chance, days, covers)
    if position in inputs.not_calculated and reason.code == "demand_of_position_not_known":
        reason = fact("chance_not_calculated_yet", position=found.tag)
    return PositionRisk(
        position=found,
        chance=chance,
        lead_time_days=days,
        lead_time_item=item,
        hours_to_wait=hours,
        expected_cost=_cost(found, chance, hours, nearest),
        covers=covers,
        nearest=nearest,
        needs_transfer=bool(rooms) and found.storeroom not in rooms,
        reason=reason,
        year=inputs.years.get(found.tag),
    )


def _covers(inputs: RiskInputs, position: int) -> tuple[CoveringItem, ...]:
    rows = [
        CoveringItem(item, inputs.stock_numbers[item], grade, stock, sum(one.available for one in stock))
        for item, grade in inputs.grades.get(position, {}).items()
        for stock in [inputs.stock_for(item, position)]
    ]
    return tuple(
        sorted(rows, key=lambda row: (GRADE_RANK[Grade(row.grade)], -row.available, row.stock_number))
    )


def shortened(risk: PositionRisk) -> PositionRisk:
    """With its best parts, and of each the nearest storerooms; the others are counted."""
    covers = tuple(
        replace(
            cover,
            stock=tuple(sorted(cover.stock, key=_nearest_first)[:MOST_STOREROOMS]),
            further_storerooms=max(len(cover.stock) - MOST_STOREROOMS, 0),
        )
        for cover in risk.covers[:MOST_COVERS]
    )
    return replace(risk, covers=covers, further_covers=max(len(risk.covers) - MOST_COVERS, 0))


def _nearest_first(one: StoreroomStock) -> tuple[bool, int, str]:
    return one.minutes is None, one.minutes or 0, one.storeroom


def nearest_of(covers: Iterable[CoveringItem]) -> StoreroomStock | None:
    there = [one for cover in covers for one in cover.stock if one.available > 0 and one.minutes is not None]
    return min(there, key=lambda one: (one.minutes or 0, one.storeroom), default=None)


def _cost(
    position: RiskPosition,
    chance: UnservedChance | None,
    hours: float | None,
    nearest: StoreroomStock | None,
) -> Decimal | None:
    """Of the hours to an emergency delivery where no piece is left, and else of the minutes to the nearest one."""
    if chance is None or position.downtime_cost_per_hour is None or hours is None:
        return None
    minutes = nearest.minutes if nearest and nearest.minutes else 0
    waiting = chance.value * hours + (chance.of_demand - chance.value) * minutes / 60
    cost = Decimal(repr(waiting)) * position.downtime_cost_per_hour
    return cost.quantize(CENT, ROUND_HALF_UP)


def _reason(
    position: RiskPosition,
    chance: UnservedChance | None,
    days: float | None,
    covers: tuple[CoveringItem, ...],
) -> Fact:
    if not covers:
        return fact("nothing_serves_position", position=position.tag)
    if days is None:
        return fact("days_to_next_piece_not_known", item=covers[0].stock_number)
    if chance is None:
        return fact("demand_of_position_not_known", position=position.tag)
    return fact(
        "chance_unserved" if chance.is_exact else "chance_unserved_at_most",
        position=position.tag,
        days=days,
        chance_of_demand=chance.of_demand,
        chance=chance.value,
        available=sum(cover.within_reach for cover in covers),
    )

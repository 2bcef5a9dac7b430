"""Before the last piece is taken: who else could need it, and what else would serve them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from drives.demand.importance import RANK
from drives.exposure.risk_inputs import Outlook, Place, load_outlook
from drives.substitutes import Offer
from inventory.interchange.vocabulary import Grade

MOST_NAMED = 4


@dataclass(frozen=True)
class OtherExposed:
    """Another position that the item serves; `chance` is that of its asking before more can be here."""

    place: Place
    chance: float | None
    has_other: bool
    """Another item that serves it is free somewhere."""


@dataclass(frozen=True)
class ItemExposure:
    """What taking one piece of an item means for the others; `chance` is that of any of them asking before the next receipt."""

    chance: float | None
    lead_time_days: float | None
    positions: tuple[OtherExposed, ...]
    is_last_piece: bool

    @property
    def worst(self) -> tuple[OtherExposed, ...]:
        """As many as fit on a card."""
        return self.positions[:MOST_NAMED]


def exposures_of(offers: Iterable[Offer], position: int, at: datetime) -> dict[int, ItemExposure]:
    """By item, of every offer that somebody could take from a shelf for this position.

    Empty where nobody has worked out yet which item serves which position.
    """
    item_ids = [
        offer.candidate.item.pk
        for offer in offers
        if offer.candidate.available > 0 and offer.candidate.verdict.grade is not Grade.UNFIT
    ]
    outlook = load_outlook(at, item_ids=item_ids)
    if not any(outlook.grades.values()):
        return {}
    found = {item: others_exposed(outlook, item, position) for item in item_ids}
    return {item: exposure for item, exposure in found.items() if exposure is not None}


def others_exposed(outlook: Outlook, item: int, position: int) -> ItemExposure | None:
    """The other positions that the free pieces of an item could serve, the worst first: what nothing else serves, by
    criticality, then by chance. None where no piece is free.

    The time is that until the next piece of the item can be in the storeroom of the position that asks; a chance is None where
    that time is not known, or what the position asks for.
    """
    free = outlook.shelves.free.get(item, 0)
    if free <= 0 or position not in outlook.places:
        return None
    days = outlook.days_to(item, position)
    others = [
        _other(outlook, item, other, days)
        for other in outlook.positions_of.get(item, ())
        if other != position
    ]
    return ItemExposure(
        chance=_any_asks(others),
        lead_time_days=days,
        positions=tuple(sorted(others, key=_worst_first)),
        is_last_piece=free == 1,
    )


def _other(outlook: Outlook, item: int, other: int, days: float | None) -> OtherExposed:
    known = days is not None and other in outlook.asks
    chance = outlook.law(other, days or 0.0).chance_above(0) if known else None
    return OtherExposed(outlook.places[other], chance, bool(outlook.shelves.held_for(other) - {item}))


def _any_asks(others: Iterable[OtherExposed]) -> float | None:
    """Of those whose chance is known; None where there are others and no chance is."""
    chances = [other.chance for other in others]
    known = [chance for chance in chances if chance is not None]
    if chances and not known:
        return None
    quiet = 1.0
    for chance in known:
        quiet *= 1 - chance
    return 1 - quiet


def _worst_first(other: OtherExposed) -> tuple[object, ...]:
    return (
        other.has_other,
        RANK[other.place.criticality],
        other.chance is not None,
        -(other.chance or 0.0),
        other.place.tag,
    )

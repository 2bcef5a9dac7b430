"""Before a piece is taken: who else could need it before the next receipt, and what else would serve them."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from drives.demand.importance import CRITICALITY_RANK
from drives.exposure.risk_inputs import RiskInputs, RiskPosition, load_item_risk

MOST_NAMED = 4


@dataclass(frozen=True)
class OtherPosition:
    """Another position that the item serves; `chance` is that of its demand before the next receipt."""

    position: RiskPosition
    chance: float | None
    has_other: bool
    """Another item that serves it is available within reach."""


@dataclass(frozen=True)
class ItemExposure:
    """What taking one piece means for the other positions, before the next receipt."""

    chance_at_least: float | None
    """That any of those needs it whose chance is known; None where there are others and no chance is known."""
    lead_time_days: float | None
    positions: tuple[OtherPosition, ...]
    is_last_piece: bool
    as_of: datetime | None = None
    """When the chances were calculated."""
    later: frozenset[int] = frozenset()
    """Positions that came after that: their chance is not known yet."""

    @property
    def not_known(self) -> int:
        """Other positions whose chance is not known: they are in no sum."""
        return sum(other.chance is None for other in self.positions)

    @property
    def chance(self) -> float | None:
        """That any of them needs it; None where the chance of one is not known."""
        return None if self.not_known else self.chance_at_least

    @property
    def worst(self) -> tuple[OtherPosition, ...]:
        """As many as fit on a card."""
        return self.positions[:MOST_NAMED]


def item_exposures(item_ids: Collection[int], position: int, at: datetime) -> dict[int, ItemExposure]:
    """By item; without those that are not available, and empty while no cover is stored."""
    if not item_ids:
        return {}
    inputs = load_item_risk(at, item_ids, position)
    if not inputs.is_cover_known:
        return {}
    found = {item: item_exposure(inputs, item, position) for item in item_ids}
    return {item: exposure for item, exposure in found.items() if exposure is not None}


def item_exposure(inputs: RiskInputs, item: int, position: int) -> ItemExposure | None:
    """The other positions that an item could serve, the worst first: what nothing else serves, by criticality, by chance.

    None where no piece is available. The time ends when the next piece can be in the storeroom of `position`; a chance is
    None where that time or the demand of the other position is not known.
    """
    pieces = sum(one.available for one in inputs.stock.get(item, ()))
    if pieces <= 0 or position not in inputs.positions:
        return None
    days = inputs.days_to(item, position)
    served = [other for other in inputs.positions_of.get(item, ()) if other != position]
    if days is not None:
        inputs.prepare(served, days)
    others = [_other(inputs, item, other, days) for other in served]
    return ItemExposure(
        chance_at_least=_chance_of_any(others),
        lead_time_days=days,
        positions=tuple(sorted(others, key=_worst_first)),
        is_last_piece=pieces == 1,
        as_of=inputs.demands_as_of,
        later=inputs.not_calculated.intersection(served),
    )


def _other(inputs: RiskInputs, item: int, other: int, days: float | None) -> OtherPosition:
    chance = None
    if days is not None and other in inputs.demands:
        chance = inputs.demand_over(other, days).chance_above(0)
    return OtherPosition(
        inputs.positions[other], chance, any(served != item for served, _ in inputs.cover.items_for(other))
    )


def _chance_of_any(others: Collection[OtherPosition]) -> float | None:
    known = [other.chance for other in others if other.chance is not None]
    if others and not known:
        return None
    none_needs_it = 1.0
    for chance in known:
        none_needs_it *= 1 - chance
    return 1 - none_needs_it


def _worst_first(other: OtherPosition) -> tuple[object, ...]:
    return (
        other.has_other,
        CRITICALITY_RANK[other.position.criticality],
        other.chance is not None,
        -(other.chance or 0.0),
        other.position.tag,
    )

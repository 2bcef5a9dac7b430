"""What one item in one storeroom is asked for, as numbers: no drive is known on this side."""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from inventory.stocking.demand_models import Demand


@dataclass(frozen=True, kw_only=True)
class Downtime:
    """What an hour without the part costs; the worst drive that nothing else can serve sets it."""

    cost_per_hour: Decimal
    currency: str
    drive: str


@dataclass(frozen=True, kw_only=True)
class WearNotice:
    """Wear that announces itself: part of the demand needs no shelf, an order in time will do."""

    wear_share: float
    """Of the demand, between 0 and 1: the share of positions and mechanisms that inspections see coming."""
    notice_days: float
    """From the first look that shows it to the limit, the gap between two looks taken off."""
    order_by: tuple[tuple[str, str], ...] = ()
    """(position, ISO date) of the orders that inspections ask for, the earliest first."""


@dataclass(frozen=True, kw_only=True)
class Need:
    """The demand of a part in a storeroom, pooled over the numbers it hides under."""

    item_id: int
    storeroom_id: int
    member_ids: tuple[int, ...]
    """Items that are the same part everywhere, `item_id` among them: their pieces count together."""
    kept_as_id: int | None = None
    """The member that is kept in this one's place; then none of this one is bought again."""
    demand: Demand | None
    """Of pieces nobody planned; None where nothing was ever asked for and no position could ask."""
    sudden_demand: Demand | None = None
    """The demand without wear that is seen coming; given together with `notice`."""
    model: str
    """`gamma_poisson`, `weibull_renewal`, `intermittent` or `none`."""
    rate_per_year: float
    planned_per_year: float = 0.0
    importance: str
    downtime: Downtime | None = None
    notice: WearNotice | None = None
    explanation: tuple[str, ...] = ()
    cover_explanation: tuple[str, ...] = ()
    """What stands in for it, and what that is worth."""
    evidence: dict[str, Any] = field(default_factory=dict)
    """JSON, in a fixed order: `pool`, `events`, `lives`, `prior`, `series`, `cover`, … for the page."""
    inputs: tuple[Any, ...] = ()
    """All that the demand was worked out from, as plain values: equal inputs, equal need."""

"""What levels achieve and cost, for the recommended ones and for those in force alike."""

from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from inventory.planning.case import Asked, Case
from inventory.planning.facts import Levels
from inventory.planning.words import money
from inventory.stocking.service_levels import ServiceProfile


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """Shares between 0 and 1; pieces are averages over time; money in the currency of the price."""

    fill_rate: float
    cycle_service_level: float
    expected_stockouts_per_year: float
    mean_on_hand: float
    pieces_per_job: float
    tied_up: Decimal | None
    holding_cost_per_year: Decimal | None

    def as_json(self, levels: Levels) -> dict[str, Any]:
        plain = {
            name: str(value) if isinstance(value, Decimal) else value for name, value in asdict(self).items()
        }
        return levels.as_json() | plain


def figures_of(case: Case, asked: Asked, levels: Levels) -> Figures:
    """The demand and the lead time are the same for all levels that are compared."""
    unfilled, cycle, on_hand = 1.0, 0.0, 0.0
    if levels.stocked:
        quantity = levels.order_up_to - levels.reorder_point
        profile = ServiceProfile(asked.law, quantity, asked.sizes, most=levels.reorder_point)
        unfilled = float(profile.unfilled[levels.reorder_point + 1])
        on_hand = float(profile.on_hand[levels.reorder_point + 1])
        cycle = asked.law.chance_within(levels.reorder_point)
    price = case.facts.price
    tied_up = None if price is None else float(price) * on_hand
    return Figures(
        fill_rate=1.0 - unfilled,
        cycle_service_level=cycle,
        expected_stockouts_per_year=asked.rate_per_year * unfilled,
        mean_on_hand=on_hand,
        pieces_per_job=asked.pieces_per_job,
        tied_up=None if tied_up is None else money(tied_up),
        holding_cost_per_year=None if tied_up is None else money(tied_up * case.terms.holding_rate_per_year),
    )

"""One part of the malting plant, with a demand given as numbers."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from inventory.facts import Fact, fact, fact_from_json
from inventory.planning.policy_inputs import (
    Downtime,
    DriveShare,
    ItemDetails,
    Need,
    RecommendationInput,
    levels_of,
)
from inventory.planning.recommend import recommend
from inventory.planning.terms import ImportanceTarget, Terms, shipped_targets
from inventory.stocking.demand_models import PoissonDemand
from inventory.stores.lead_times import EmergencyHours, LeadTime, LeadTimeBasis


def lead_time(mean_days: float = 45.0, sd_days: float = 0.0) -> LeadTime:
    reason = fact("lead_time_entered", days=45, orders=0)
    return LeadTime(mean_days, sd_days, LeadTimeBasis.ENTERED, 0, (reason,))


@dataclass(frozen=True)
class LeadTimesByItem:
    by_item: dict[int, LeadTime]

    def of(self, item_id: int, storeroom_id: int) -> LeadTime | None:
        return self.by_item.get(item_id)


def emergency(hours: float) -> EmergencyHours:
    return EmergencyHours(hours, 3, True, fact("emergency_orders_of_item", orders=3))


def need(**more: Any) -> Need:
    rate = more.pop("rate", 4.0)
    values: dict[str, Any] = {
        "item_id": 1,
        "storeroom_id": 1,
        "member_ids": (more.get("item_id", 1),),
        "demand": PoissonDemand(rate),
        "model": "gamma_poisson",
        "rate_per_year": rate,
        "importance": "essential",
        "explanation": (fact("recorded_text", text=f"{rate:g} requests a year."),),
    }
    return Need(**{**values, **more})


def downtime(cost: str = "420", currency: str = "EUR", stop_share: float = 1.0) -> Downtime:
    """Of one drive."""
    drive = DriveShare(
        drive="STEEP-EL1-D1", position="STEEP-EL1-D1-DRV", share=stop_share, cost_per_hour=Decimal(cost)
    )
    return Downtime(cost_per_hour=Decimal(cost), currency=currency, stop_share=stop_share, drives=(drive,))


PRICED = ItemDetails(stock_number="SPR-1", unit_cost=Decimal("38.50"))
UNPRICED = ItemDetails(stock_number="SPR-1")


def targets(**of: Any) -> dict[str, ImportanceTarget]:
    """Of essential parts."""
    values = {"importance": "essential", "kind": "fill_rate", "value": 0.95} | of
    return {"essential": ImportanceTarget(**values)}


def given(one: Need | None = None, **more: Any) -> RecommendationInput:
    one = one or need()
    hours = more.pop("emergency_hours", None)
    values: dict[str, Any] = {
        "need": one,
        "lead_time": lead_time(),
        "terms": Terms(),
        "target": more.pop("targets", shipped_targets())[one.importance],
        "item": PRICED,
        "emergency": emergency(hours) if hours is not None else None,
    }
    return RecommendationInput(**{**values, **more})


def advice(one: Need | None = None, **more: Any) -> Any:
    """What is recommended, its reasons as facts."""
    found = recommend(given(one, **more))
    found.explanation = tuple(map(fact_from_json, found.explanation))
    found.levels = levels_of(found)  # type: ignore[attr-defined]
    return found


def codes(one: Any) -> list[str]:
    return [reason.code for reason in one.explanation]


def reason(one: Any, code: str) -> Fact:
    (found,) = (reason for reason in one.explanation if reason.code == code)
    return found

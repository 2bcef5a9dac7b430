"""One part of the malting plant, asked for by hand-made numbers."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from inventory.planning.facts import ItemFacts
from inventory.planning.need import Downtime, Need
from inventory.planning.recommend import Advice, recommend
from inventory.planning.terms import Target, Targets, Terms
from inventory.stocking.demand_models import PoissonDemand


@dataclass(frozen=True)
class KnownLeadTime:
    mean_days: float = 45.0
    sd_days: float = 0.0
    basis: str = "entered"
    sentence: str = "It takes 45 days from order to shelf, as entered."


@dataclass(frozen=True)
class LeadTimesByPlace:
    by_item: dict[int, KnownLeadTime]

    def of(self, item_id: int, storeroom_id: int) -> KnownLeadTime | None:
        return self.by_item.get(item_id)


@dataclass(frozen=True)
class KnownEmergency:
    hours: float
    sentence: str = "From 3 emergency buys of this item."


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
        "explanation": (f"{rate:g} a year are asked for.",),
        "inputs": (rate,),
    }
    return Need(**{**values, **more})


def downtime(cost: str = "420", currency: str = "EUR") -> Downtime:
    return Downtime(cost_per_hour=Decimal(cost), currency=currency, drive="STEEP-EL1-D1")


PRICED = ItemFacts(stock_number="SPR-1", unit_cost=Decimal("38.50"))
UNPRICED = ItemFacts(stock_number="SPR-1")


def targets(**of: Any) -> Targets:
    """Of essential parts."""
    values = {"importance": "essential", "kind": "fill_rate", "value": 0.95} | of
    return Targets({"essential": Target(**values)})


def advice(one: Need | None = None, **more: Any) -> Advice:
    values: dict[str, Any] = {
        "lead_time": KnownLeadTime(),
        "terms": Terms(),
        "targets": Targets(),
        "facts": PRICED,
    }
    hours = more.pop("emergency_hours", None)
    values["emergency"] = KnownEmergency(hours) if hours is not None else None
    return recommend(one or need(), **{**values, **more})


def said(one: Advice) -> str:
    return " ".join(one.explanation)

"""Answers as their jobs would leave them, with as many lines as the group has positions, drives and items.

The values of the lines are made up; storing and reading them is the product's own.
"""

from decimal import Decimal
from typing import Any

from api.answers.exposure import EXPOSURE
from api.answers.exposure_lines import PlantExposure, store_lines
from api.answers.frontier import FRONTIER, parameters_of
from api.answers.frontier_lists import without_lists
from api.operations.jobs.calculations import CalculationKind
from api.operations.jobs.queue import Requester, request_job
from api.operations.jobs.runner import RunningJob, claim_next
from drives.exposure.position_years import PositionYear
from drives.exposure.positions_at_risk import CoveringItem, PositionRisk
from drives.exposure.risk_inputs import RiskPosition, StoreroomStock
from drives.exposure.unserved_chance import UnservedChance
from drives.models import Drive, Position
from inventory.facts import fact
from inventory.models import Item
from inventory.models.access_scope import AccessScope
from inventory.planning.budget_frontier import (
    DriveDowntime,
    Frontier,
    FrontierBuy,
    PartDowntime,
    PartLeftOut,
    Point,
    StockValue,
)
from inventory.plumbing.stored_form import to_stored

BUDGET = Decimal(1_000)
BUYS = 300
COST = Decimal("12.50")
PLACE: dict[str, Any] = {"item_id": 1, "stock_number": "QUESTION-1", "storeroom_id": 1}


def store_answers() -> None:
    """Of exposure and of a budget, for who may see all."""
    exposure = _running(EXPOSURE, {})
    exposure.finish(to_stored(store_lines(exposure, _exposure())))
    budget = _running(FRONTIER, parameters_of(BUDGET))
    budget.finish(to_stored(without_lists(budget, _frontier())))


def _running(kind: CalculationKind[Any], parameters: dict[str, str]) -> RunningJob:
    request_job(kind.job_kind, parameters, scope=AccessScope(), by=Requester("benchmark", "benchmark"))
    job = claim_next(kind.job_kind)
    assert job is not None
    return job


def _exposure() -> PlantExposure:
    plant = "drive__equipment__area__plant"
    columns = ("id", "tag", "drive__tag", f"{plant}__code", f"{plant}__storeroom_id")
    rows = Position.objects.order_by("pk").values_list(
        *columns, f"{plant}__storeroom__code", "drive__criticality"
    )
    return PlantExposure(
        positions=tuple(_risk(RiskPosition(*row)) for row in rows),
        is_cover_known=True,
        demand=fact("demand_not_calculated"),
        currency="EUR",
    )


def _risk(position: RiskPosition) -> PositionRisk:
    stock = tuple(StoreroomStock(position.storeroom, 1, position.storeroom_id or 0, 0) for _ in range(2))
    return PositionRisk(
        position=position,
        chance=UnservedChance(0.1, 0.1, 0.2),
        lead_time_days=30.0,
        lead_time_item="QUESTION-1",
        hours_to_wait=48.0,
        expected_cost=COST,
        covers=(CoveringItem(1, "QUESTION-1", "drop_in", stock, 2),),
        nearest=stock[0],
        needs_transfer=False,
        reason=fact("nothing_serves_position", position=position.tag),
        year=PositionYear(
            downtime_hours_per_year=1.0,
            downtime_cost_per_year=COST,
            cost_of_recorded_stops=COST,
            cost_without_stock=COST,
            recorded=None,
        ),
    )


def _frontier() -> Frontier:
    point = {"spend": COST, "downtime_hours_per_year": 1.0, "downtime_cost_per_year": COST}
    buy = FrontierBuy(**PLACE, pieces=1, stock_after=1, unit_cost=COST, **point)
    sums = ("on_shelves", "on_hold", "reserved", "on_order", "weighed", "left_out")
    items = Item.objects.order_by("pk").values_list("pk", "stock_number")
    reason = fact("price_not_known")
    return Frontier(
        currency="EUR",
        budget=BUDGET,
        buys=(buy,) * BUYS,
        further_buys=0,
        after_buys=Point(**point),
        today=Point(**point),
        best_for_the_same_money=Point(**point),
        curve=(Point(**point),) * 2,
        by_drive=tuple(_downtime(tag) for tag in Drive.objects.order_by("pk").values_list("tag", flat=True)),
        stock_value=StockValue(**dict.fromkeys(sums, COST), items_without_value=0),
        left_out=tuple(
            PartLeftOut(item_id=pk, stock_number=number, storeroom_id=1, reason=reason)
            for pk, number in items
        ),
        method=(fact("bought_by_downtime_avoided"),),
    )


def _downtime(drive: str) -> DriveDowntime:
    costs = {
        "downtime_hours_per_year": 1.0,
        "downtime_cost_per_year": COST,
        "cost_of_recorded_stops": COST,
    }
    part = PartDowntime(
        **PLACE,
        **costs,
        position=f"{drive}-1",
        is_priced=True,
        stock=0,
        stops_per_year=1.0,
        hours_to_expedite=None,
    )
    return DriveDowntime(drive=drive, parts=(part,), **costs)

"""A small plant with recommendations to decide and all their evidence."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.conf import settings
from django.test import Client
from django.utils import timezone

from api.models import ImportRun, ImportSet, ImportSheet, SentFile
from drives.duplicates.groups import find_duplicates
from drives.duplicates.merging import merge
from inventory.facts import fact
from inventory.models import FitQuestion, Kit, Recommendation
from inventory.stores import kits
from inventory.stores.counting.count_requests import request_count
from inventory.stores.ledger import ReservationLine
from tests.browser.plant import SmallPlant, small_plant
from tests.factories import (
    DeliveryCheckFactory,
    ItemFactory,
    RecommendationFactory,
    RequestFactory,
    StockingTermsFactory,
    StockPolicyFactory,
    StoreroomFactory,
    stock,
)
from tests.jobs import run_queued_jobs

CALCULATED = (
    *("/planning/exposure/", "/planning/budget/?budget=1000", "/planning/backtest/"),
    *("/planning/variety/", "/planning/orphans/"),
)
YEARS = range(2016, 2026)
TAG = "STEEP-EL1-D1-DRV"
TODAY = {
    "stocked": True,
    "reorder_point": 0,
    "order_up_to": 1,
    "fill_rate": 0.72,
    "expected_stockouts_per_year": 0.26,
    "mean_on_hand": 0.9,
    "tied_up": "38.00",
    "holding_cost_per_year": "7.60",
}


@dataclass(frozen=True)
class PlanningPlant:
    session: str
    to_decide: Recommendation
    plant: SmallPlant

    @property
    def pages(self) -> list[str]:
        return [
            "/planning/",
            "/planning/?show=decided",
            "/planning/?storeroom=NOWHERE",
            f"/planning/{self.to_decide.pk}/",
            "/planning/exposure/",
            "/planning/budget/",
            "/planning/budget/?budget=many",
            "/planning/budget/?budget=1000",
            *(f"/planning/budget/{name}/?budget=1000" for name in ("buys", "drives", "left-out")),
            "/planning/reorder/",
            "/planning/duplicates/",
            "/planning/duplicates/?likeness=near&page=7",
            "/planning/variety/",
            "/planning/orphans/",
            "/planning/orphans/?show=holes",
            "/planning/backtest/",
            "/planning/backtest/?storeroom=NOWHERE",
            "/kits/new/",
            *(f"/kits/{pk}/" for pk in Kit.objects.values_list("pk", flat=True)),
            "/imports/",
            f"/items/{self.plant.drop_in.stock_number}/",
            f"/positions/{TAG}/",
        ]


def planning_plant() -> PlanningPlant:
    plant = small_plant()
    StockingTermsFactory(hours_to_expedite=48.0)
    item = plant.drop_in
    item.unit_cost, item.lead_time_days = Decimal("38.50"), 21
    item.save()
    RequestFactory(item=item, position=plant.driver)
    twin = ItemFactory(stock_number="S-010442", specification=item.specification, unit_cost=Decimal("61.40"))
    received = stock(twin, StoreroomFactory(), 2)
    FitQuestion.objects.create(item=twin, storeroom=received.entry.storeroom, entry=received.entry)
    kits.make("WO-9", received.entry.storeroom, [ReservationLine(twin, 1)], by="ines", place="cage 4")
    merge(ItemFactory(specification=item.specification), item, by="ines", reason="one part")
    find_duplicates(timezone.now())
    problem = {"code": "file_without_rows", "values": {}}
    ImportRun.objects.create(
        kind="items", file_name="items.csv", state="failed", problems=[problem], by_name="ines"
    )
    sent = ImportSet.objects.create(name="plant.xlsx", by_name="ines")
    file = SentFile.objects.create(set=sent, number=0, name="plant.xlsx")
    ImportSheet.objects.create(set=sent, file=file, number=1, name="items", kind="items", rows=500)
    ImportRun.objects.create(kind="movements", state="done", counts={"created": 12_000, "unchanged": 3})
    to_decide = RecommendationFactory(
        item=item,
        importance="vital",
        model="weibull_renewal",
        today=TODAY,
        holding_cost_per_year=Decimal("15.40"),
        explanation=[
            fact("recorded_text", text="9 units wore out.").as_json(),
            fact("levels_recommended", reorder_point=1, order_up_to=2).as_json(),
        ],
        since_last=[fact("input_changed", input="events", before=8, after=9).as_json()],
        evidence=_evidence(),
    )
    StockPolicyFactory(item=item, storeroom=to_decide.storeroom)
    StockPolicyFactory(item=plant.pilot, reorder_point=3, order_up_to=5)
    for count in range(60):
        RecommendationFactory(item=ItemFactory(stock_number=f"77-{count:04}", description="IDLER"))
    request_count(item, to_decide.storeroom, "new", cause="asked", at=timezone.now())
    DeliveryCheckFactory(order__item=item, order__storeroom=to_decide.storeroom)
    return PlanningPlant(plant.session, to_decide, plant)


def calculated_plant() -> PlanningPlant:
    """That plant, with what the scheduler calculates for its pages."""
    plant = planning_plant()
    calculate(plant.session)
    return plant


def calculate(session: str, addresses: Sequence[str] = CALCULATED) -> None:
    """So that the pages show answers, and not that they are being calculated."""
    client = Client()
    client.cookies[settings.SESSION_COOKIE_NAME] = session
    for address in addresses:
        assert client.get(address).status_code == 200
    assert run_queued_jobs() == len(addresses)


def _evidence() -> dict[str, object]:
    return {
        "basis": "b",
        "pool": {
            "members": ["41-0105", "41-0110"],
            "record_from": "2016-01-01T00:00:00+00:00",
            "record_until": "2026-01-01T00:00:00+00:00",
            "positions": [
                {
                    "position": TAG,
                    "drive": "STEEP-EL1-D1",
                    "criticality": "vital",
                    "years": 10.0,
                    "pieces_unplanned": 9,
                    "pieces_planned": 1,
                }
            ],
        },
        "events": [_event(year) for year in YEARS],
        "lives": [_life(year) for year in YEARS],
        "fit": {
            "shape": 3.2,
            "scale_hours": 6700.0,
            "shape_interval": [1.8, 5.0],
            "mean_life_hours": 6000.0,
            "reasons": [
                {
                    "code": "parts_wear_out",
                    "values": {"shape": 3.2, "shape_low": 1.8, "shape_high": 5.0, "confidence_percent": 95.0},
                }
            ],
        },
        "prior": {
            "family": fact("family_of_role", role="driver").as_json(),
            "pools": 13,
            "shape": 0.8,
            "exposure_years": 1.4,
        },
        "lead_time": {
            "basis": "own",
            "reasons": [fact("lead_time_from_orders_here", orders=10).as_json()],
        },
        "lead_time_law": [0.9, 0.08, 0.02],
        "figures": {"tied_up": "77.00", "mean_on_hand": 1.9},
        "inspections": [
            {
                "position": TAG,
                "reasons": [fact("meter_not_usable").as_json()],
                "notice_days": 90.0,
                "limit_on": "2026-12-24",
                "order_by": "2020-01-05",
            }
        ],
        "cover": [
            {
                "item": "41-0110",
                "grade": "with_work",
                "work_minutes": 45,
                "positions": 1,
                "pieces": 2,
                "averts": 0.12,
            }
        ],
    }


def _event(year: int) -> dict[str, object]:
    return {
        "at": f"{year}-03-05T06:30:00+00:00",
        "item": "41-0105",
        "given": None if year == 2019 else "41-0105",
        "position": TAG,
        "quantity": 1 + year % 3,
        "result": "not_filled" if year == 2019 else "filled",
        "work_order": f"WO-{year}",
        "is_planned": year % 4 == 0,
        "source": "request",
    }


def _life(year: int) -> dict[str, object]:
    is_running = year == YEARS[-1]
    return {
        "position": TAG,
        "item": "41-0105",
        "installed_at": f"{year}-03-05T06:30:00+00:00",
        "removed_at": None if is_running else f"{year + 1}-03-05T06:30:00+00:00",
        "hours": 2400.0 + 700 * (year % 5),
        "age_basis": "calendar",
        "ended_by": "" if is_running else "failure",
        "mechanism": "" if is_running else "wear",
        "counts_as": "running" if is_running else "worn_out",
    }

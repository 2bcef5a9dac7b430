"""A run that has nothing to do ends before any work; whatever a recommendation is made from, a change of it is followed."""

from collections.abc import Callable
from datetime import date, time, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from drives.demand import recompute as module
from drives.demand.follow_record import follow_record
from drives.demand.recompute import recompute
from drives.demand.unchanged import NOT_READ, RESULTS, digest_of_inputs
from drives.models import Drive, Installation, Position, RecordStart, Request
from inventory.models import (
    Item,
    OpeningHours,
    PlantSetting,
    Recommendation,
    Rule,
    ServiceTarget,
    Specification,
    StockEntry,
    StockingRun,
    StockingTerms,
    StockLevel,
    StockPolicy,
    Storeroom,
    SupplyOrder,
    TransferTime,
)
from inventory.plumbing.content_digest import content_digest
from tests.drives.demand.demand_records import day, issue, main_room, put_in_stock, ran, request, sprocket
from tests.factories import (
    InspectionFactory,
    PositionFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    TransferTimeFactory,
)

pytestmark = pytest.mark.django_db

NOW = day(1_000)


@pytest.fixture
def plant() -> Position:
    """A position with failures, a second one, stock and a policy."""
    position, other = PositionFactory(), PositionFactory()
    for place in (position, other):
        plant = place.drive.equipment.area.plant
        plant.storeroom = main_room()
        plant.save()
    part, second = sprocket("SPR-A", unit_cost=Decimal(80)), sprocket("SPR-B", unit_cost=Decimal(90))
    put_in_stock(part, second)
    for number in range(3):
        ran(position, part, 200 * number, 200 * number + 190)
        request(200 * number + 190, part, position)
    ran(position, part, 600)
    ran(other, second, 100)
    issue(700, second)
    StockPolicy.objects.create(item=part, storeroom=main_room(), reorder_point=0, order_up_to=2)
    return position


def run(**more: Any) -> StockingRun:
    return recompute(as_of=more.pop("as_of", NOW), by="test", **more)


def advice() -> dict[tuple[int, int], dict[str, Any]]:
    left_out = ("id", "run_id", "created_at", "updated_at", "since_last")
    columns = [one.attname for one in Recommendation._meta.concrete_fields if one.attname not in left_out]
    rows = Recommendation.objects.current().values(*columns)
    return {(row["item_id"], row["storeroom_id"]): row for row in rows}


@pytest.fixture
def work(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    done: list[str] = []
    load = module.load_demand_snapshot

    def note(*args: Any) -> Any:
        done.append("loaded")
        return load(*args)

    monkeypatch.setattr(module, "load_demand_snapshot", note)
    return done


def test_again_without_a_change_nothing_is_loaded(plant: Position, work: list[str]) -> None:
    first, seen = run(), []
    again = run(progress=lambda done, total: seen.append((done, total)))
    assert work == ["loaded"]
    assert (again.state, again.done, again.total) == ("done", first.total, first.total)
    assert (again.recomputed, again.changed, seen) == (0, 0, [(first.total, first.total)])
    assert first.total == 2


def test_without_a_run_there_is_nothing_to_follow() -> None:
    assert follow_record(NOW) == 0


def test_a_full_run_always_works(plant: Position, work: list[str]) -> None:
    run(), run(is_full=True)
    assert work == ["loaded", "loaded"]


def test_what_a_failed_run_left_is_not_trusted(plant: Position, work: list[str]) -> None:
    run()
    StockingRun.objects.create(as_of=NOW, state="failed")
    run()
    assert work == ["loaded", "loaded"]


def test_a_result_that_was_taken_away_is_made_again(plant: Position, work: list[str]) -> None:
    run()
    Recommendation.objects.first().delete()
    run()
    assert len(advice()) == 2


def reach() -> None:
    TransferTimeFactory(from_storeroom=main_room(), to_storeroom=StoreroomFactory(code="NORTH"), minutes=20)


CHANGES: dict[str, Callable[[Position], object]] = {
    "a failure": lambda place: Installation.objects.filter(position=place, removed_at=None).update(
        removed_at=day(900), ended_by="failure", mechanism="wear"
    ),
    "a request": lambda place: request(950, Item.objects.first(), place),
    "a request that is struck out": lambda place: Request.objects.first().delete(),
    "an issue": lambda place: issue(950, Item.objects.first()),
    "a price": lambda place: Item.objects.update(unit_cost=Decimal(5)),
    "a lead time": lambda place: Item.objects.update(lead_time_days=90),
    "an attribute": lambda place: Specification.objects.update(bore_mm=Decimal(24)),
    "a shaft": lambda place: Position.objects.update(shaft_diameter_mm=Decimal(24)),
    "what a stop costs": lambda place: Drive.objects.update(downtime_cost_per_hour=Decimal(9_000)),
    "a day in use": lambda place: Position.objects.update(in_use_from=date(2024, 1, 1)),
    "a setting": lambda place: PlantSetting.objects.create(name="prior_events", value=2),
    "a rule": lambda place: Rule.objects.create(name="pitch_tolerance_mm", value=0.02),
    "terms": lambda place: StockingTerms.objects.create(pk=1, holding_rate_per_year=0.5),
    "a target": lambda place: ServiceTarget.objects.create(importance="essential", value=0.8),
    "a policy": lambda place: StockPolicy.objects.update(order_up_to=3),
    "stock": lambda place: StockLevel.objects.update(on_hand=0),
    "an order that came": lambda place: [
        SupplyOrderFactory(
            item=Item.objects.first(),
            storeroom=main_room(),
            ordered_at=day(800 + 20 * number),
            received_at=day(810 + 20 * number),
            quantity=1,
            received_quantity=1,
            status="received",
        )
        for number in range(3)
    ],
    "an inspection": lambda place: [
        InspectionFactory(position=place, at=day(610 + 90 * n), elongation_percent=Decimal(n))
        for n in range(4)
    ],
    "where a record starts": lambda place: RecordStart.objects.update(complete_from=day(500).date()),
    "a way between storerooms": lambda place: reach(),
    "opening hours": lambda place: OpeningHours.objects.create(
        storeroom=main_room(), weekday=1, opens=time(6), closes=time(14)
    ),
    "a name": lambda place: Storeroom.objects.update(code="MALT"),
}


@pytest.mark.sqlite
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_every_kind_of_input_is_followed(
    plant: Position, work: list[str], change: Callable[[Position], object]
) -> None:
    run()
    change(plant)
    run()
    assert work == ["loaded", "loaded"]
    followed = advice()
    run(is_full=True)
    assert followed == advice()


def test_a_day_that_passes_is_followed(plant: Position, work: list[str]) -> None:
    run()
    before = advice()
    run(as_of=NOW + timedelta(days=1))
    assert work == ["loaded", "loaded"]
    assert advice() != before


def test_what_was_still_to_come_is_followed_when_it_has_come(plant: Position, work: list[str]) -> None:
    request(1_000.2, Item.objects.first(), plant)
    run()
    before = advice()
    run(as_of=NOW + timedelta(minutes=10))
    assert work == ["loaded"]
    run(as_of=NOW + timedelta(hours=6))
    assert work == ["loaded", "loaded"]
    assert advice() != before


def test_when_a_row_was_written_is_not_still_to_come(plant: Position) -> None:
    written = Item.objects.first().created_at
    before, after = (content_digest([Item], at=written + timedelta(minutes=shift)) for shift in (-5, 5))
    assert before == after


def test_any_column_of_any_table_that_is_read_counts(plant: Position) -> None:
    known = {digest_of_inputs(NOW)}
    for record, column, value in (
        (StockEntry, "work_order", None),
        (Item, "description", "another"),
        (StockLevel, "reserved", 1),
        (SupplyOrder, "quantity", 9),
        (TransferTime, "minutes", 3),
    ):
        if record in (SupplyOrder, TransferTime):
            SupplyOrderFactory() if record is SupplyOrder else TransferTimeFactory()
            known.add(digest_of_inputs(NOW))
        if value is not None:
            record.objects.update(**{column: value})
        else:
            issue(901, Item.objects.first(), work_order="WO-9")
        before = len(known)
        known.add(digest_of_inputs(NOW))
        assert len(known) == before + 1, record


def test_no_run_reads_what_is_left_out(plant: Position) -> None:
    with CaptureQueriesContext(
        connection,
    ) as queries:
        run()
    read = [sql for one in queries if (sql := one["sql"]).startswith("SELECT")]
    for record in (*NOT_READ,):
        assert not any(f'"{record._meta.db_table}"' in sql for sql in read), record
    tables = {
        one._meta.db_table: one
        for app in ("inventory", "drives")
        for one in apps.get_app_config(app).get_models()
    }
    named = {record for table, record in tables.items() if any(f'"{table}"' in sql for sql in read)}
    assert {Recommendation, StockingRun} <= named & set(RESULTS)

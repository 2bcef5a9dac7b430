"""The downtime of a year and the record of a small plant, each worked out by hand and held against the other.

Four years of record, one part, its emergency deliveries always 48 hours:

| drive | an hour | stops, each waited 48 h | renewed at an inspection |
|---|---|---|---|
| kiln | 1,000 | 6 | 0 |
| steep | 200 | 2 | 3 |
"""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from drives.demand.downtime import load_priced_positions
from drives.demand.needs import needs_of
from drives.demand.recorded_waits import priced_waits, waits_of
from drives.demand.snapshot import load_demand_snapshot
from drives.exposure.position_years import explained, position_years, year_of_all
from drives.models import Cover
from inventory.planning.budget_frontier import downtime_by_drive, frontier
from inventory.stores.lead_times import emergency_hours
from tests import factories as make
from tests import movements

pytestmark = pytest.mark.django_db

BEGIN = datetime(2022, 1, 1, tzinfo=UTC)
LAST_DAY = BEGIN + timedelta(days=4 * 365 - 1, hours=12)
WAIT = timedelta(hours=48)

YEARS_BEFORE_THE_MONTH = (datetime(2025, 12, 1, tzinfo=UTC) - BEGIN) / timedelta(days=365)
JOBS_A_YEAR = (6 + 2 + 3 + 0.5) / (4 + 0.5 * YEARS_BEFORE_THE_MONTH / (6 + 2 + 3))
"""The half event of the prior stands at the mean rate of all parts before this month, and this is the only one."""
STOP_SHARE = (6 + 2 + 1) / (6 + 2 + 3 + 1)
"""With one job to come that stops a drive."""
KILN_SHARE, STEEP_SHARE = (6 + 0.5) / 9, (2 + 0.5) / 9
"""The job to come, one half at each."""
KILN = JOBS_A_YEAR * STOP_SHARE * KILN_SHARE * 48 * 1_000
STEEP = JOBS_A_YEAR * STOP_SHARE * STEEP_SHARE * 48 * 200


@pytest.fixture
def room():
    return make.StoreroomFactory(timezone="UTC")


@pytest.fixture
def part(room):
    part = make.ItemFactory(stock_number="SPR-1", unit_cost=Decimal("50"), lead_time_days=73)
    make.RecordStartFactory(storeroom=room, complete_from=BEGIN.date())
    make.stock(part, room, 11)
    return part


def job(position, part, room, number: int, day: float, *, ended_by: str) -> None:
    """A unit goes off; what failed waits for an emergency order, what was due at an inspection is there."""
    at, order = BEGIN + timedelta(days=day), f"WO-{number}"
    failed = ended_by == "failure"
    made = {"position": position, "item": part, "installed_at": at - timedelta(days=30), "work_order": order}
    make.InstallationFactory(
        **made, removed_at=at, ended_by=ended_by, mechanism="overload" if failed else "wear"
    )
    result = "not_filled" if failed else "filled"
    make.RequestFactory(item=part, position=position, storeroom=room, at=at, result=result, work_order=order)
    came = at + WAIT if failed else at
    if failed:
        make.SupplyOrderFactory(
            item=part,
            storeroom=room,
            emergency=True,
            ordered_at=at,
            received_at=came,
            received_quantity=1,
            status="received",
        )
    movements.issue(
        part, room, 1, by="Ines Okafor", occurred_at=came, work_order=order, position=position.tag
    )


@pytest.fixture
def plant(part, room):
    places = {}
    for tag, an_hour, ends in (
        ("KILN", 1_000, ["failure"] * 6),
        ("STEEP", 200, ["failure"] * 2 + ["limit_reached"] * 3),
    ):
        drive = make.DriveFactory(tag=f"{tag}-D1", downtime_cost_per_hour=an_hour)
        position = places[tag] = make.PositionFactory(tag=f"{tag}-P1", drive=drive)
        Cover.objects.create(position=position, item=part, grade="drop_in")
        for number, ended_by in enumerate(ends):
            job(
                position,
                part,
                room,
                number + an_hour,
                100 + 200 * number + an_hour / 50,
                ended_by=ended_by,
            )
        make.InstallationFactory(position=position, item=part, installed_at=LAST_DAY - timedelta(days=20))
    return places


def worked_out():
    snapshot = load_demand_snapshot(LAST_DAY)
    given = {
        "lead_times": snapshot.lead_times,
        "emergencies": emergency_hours(LAST_DAY),
        "today": LAST_DAY.date(),
    }
    needs, waits = needs_of(snapshot), priced_waits(waits_of(snapshot.demand), load_priced_positions(), "EUR")
    by_drive = downtime_by_drive(needs, **given)
    budget = frontier(needs, budget=Decimal(500), recorded=waits, **given)
    return by_drive, position_years(by_drive, waits), budget


def test_without_stock_each_stop_costs_what_it_cost_on_record(plant) -> None:
    by_drive, years, budget = worked_out()

    assert {row.drive: float(row.downtime_cost_per_year) for row in by_drive} == pytest.approx(
        {"KILN-D1": KILN, "STEEP-D1": STEEP}, abs=0.01
    )
    assert (round(KILN), round(STEEP)) == (71_564, 5_505)
    kiln, steep = years["KILN-P1"].recorded, years["STEEP-P1"].recorded
    assert (kiln.waits, kiln.stops, kiln.hours_per_year) == (6, 6, pytest.approx(6 * 48 / 4))
    assert (steep.waits, steep.stops, steep.hours_per_year) == (2, 2, pytest.approx(2 * 48 / 4))
    assert (kiln.cost_per_year, steep.cost_per_year) == (Decimal("72000.00"), Decimal("4800.00"))
    assert (kiln.since, kiln.until) == (BEGIN.date(), date(2025, 12, 30))
    # The stops on record, with the stock of today, cost exactly what they cost then; the job to come is the rest.
    assert years["KILN-P1"].cost_of_recorded_stops == Decimal("72000.00")
    assert years["STEEP-P1"].cost_of_recorded_stops == Decimal("4800.00")
    assert budget.today.downtime_cost_per_year == Decimal("77068.85")


def test_budget_drives_and_positions_are_one_sum_and_it_is_explained(plant) -> None:
    by_drive, years, budget = worked_out()
    total = year_of_all(years.values())

    assert budget.by_drive == by_drive
    assert (
        total.downtime_cost_per_year
        == sum(row.downtime_cost_per_year for row in by_drive)
        == budget.today.downtime_cost_per_year
    )
    assert budget.recorded == total.recorded
    facts = {one.code: one.values for one in explained(total, "EUR")}
    assert budget.method[-3:] == explained(total, "EUR")
    assert (
        facts["downtime_of_a_year"]["cost"] == facts["downtime_of_a_year"]["cost_without_stock"] == "77068.85"
    )
    assert facts["more_stops_than_recorded"]["cost_not_seen"] == "268.85"
    assert (facts["waits_on_record"]["waits"], facts["waits_on_record"]["cost"]) == (8, "76800.00")


def test_a_piece_on_the_shelf_leaves_the_share_for_which_it_is_away(plant, part, room) -> None:
    make.stock(part, room, 1)
    _, years, budget = worked_out()
    away = JOBS_A_YEAR * 73 / 365
    left = away / (1 + away)
    assert float(budget.today.downtime_cost_per_year) == pytest.approx((KILN + STEEP) * left, abs=0.01)
    assert float(years["KILN-P1"].cost_of_recorded_stops) == pytest.approx(72_000 * left, abs=0.01)
    assert year_of_all(years.values()).cost_without_stock == 0


def test_a_wait_without_its_issue_or_without_a_price_is_named(plant, part, room) -> None:
    make.RequestFactory(
        item=part,
        position=plant["KILN"],
        storeroom=room,
        at=LAST_DAY,
        result="not_stocked",
        work_order="WO-9",
    )
    plant["STEEP"].drive.downtime_cost_per_hour = None
    plant["STEEP"].drive.save()
    _, years, budget = worked_out()
    assert (years["KILN-P1"].recorded.waits, years["KILN-P1"].recorded.not_known) == (7, 1)
    assert (years["STEEP-P1"].recorded.without_price, years["STEEP-P1"].recorded.cost_per_year) == (2, 0)
    assert [(one.code, one.values) for one in budget.method[-2:]] == [
        ("recorded_waits_without_end", {"waits": 1}),
        ("recorded_waits_without_price", {"waits": 2}),
    ]

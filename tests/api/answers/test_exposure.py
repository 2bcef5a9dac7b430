from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.utils import timezone

from api.answers.exposure import calculate_exposure
from api.answers.exposure_lines import sums_of
from api.answers.frontier import needs_for_caller
from api.edge.scope import ELSEWHERE
from api.models import BackgroundJob
from drives.demand.stored_needs import stored_needs
from drives.exposure.position_years import year_of_all
from drives.models import Cover, Request
from drives.service_record import history
from inventory.models import StockingTerms
from inventory.models.access_scope import AccessScope, scoped_to
from tests.factories import (
    AreaFactory,
    DriveFactory,
    EquipmentFactory,
    InstallationFactory,
    ItemFactory,
    PlantFactory,
    PositionFactory,
    StoreroomFactory,
    stock,
)
from tests.jobs import forget_answers, get_calculated, run_queued_jobs
from tests.stored_demand import calculate_demands

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/exposure/"
AT = "2026-11-24T09:00:00+01:00"


def ask(client, **query):
    forget_answers()
    calculate_demands(datetime.fromisoformat(AT))
    answer = get_calculated(client, ADDRESS, {"at": AT, **query})
    assert answer.status_code == 200, answer.content
    return answer.json()


def place(*items, requests=4, **drive):
    """A position that each of the items drops into, with so many requests in two years."""
    position = PositionFactory(drive=DriveFactory(**drive))
    InstallationFactory(position=position, item=items[0], installed_at=datetime(2024, 1, 1, tzinfo=UTC))
    for item in items:
        Cover.objects.create(position=position, item=item, grade="drop_in")
    for number in range(requests):
        Request.objects.create(
            at=datetime(2024, 6, 1, tzinfo=UTC) + timedelta(days=200 * number),
            item=items[0],
            position=position,
            storeroom=StoreroomFactory(),
            result="filled",
        )
    return position


def positions(answer):
    return [row["position"] for row in answer["results"]]


def test_the_position_without_an_available_piece_comes_first(as_manager):
    bare, held = ItemFactory(), ItemFactory()
    stock(held, StoreroomFactory(), 5)
    safe, exposed = place(held), place(bare)

    answer = ask(as_manager)

    assert positions(answer) == [exposed.tag, safe.tag]
    first = answer["results"][0]
    assert first["chance"] == first["chance_of_demand"] > answer["results"][1]["chance"]
    assert (first["lead_time_days"], first["lead_time_item"]) == (21, bare.stock_number)


def test_it_is_money_by_the_hours_that_a_stop_waits(as_manager):
    place(ItemFactory(lead_time_days=21), downtime_cost_per_hour=Decimal("1000"))
    row = ask(as_manager)["results"][0]
    assert row["hours_to_wait"] == 21 * 24
    assert float(row["expected_cost"]) == pytest.approx(row["chance"] * 21 * 24_000, abs=0.01)

    StockingTerms.objects.update_or_create(id=1, defaults={"hours_to_expedite": 10})
    row = ask(as_manager)["results"][0]

    assert float(row["expected_cost"]) == pytest.approx(row["chance"] * 10_000, abs=0.01)


def test_it_has_what_serves_a_position_and_where_it_is(as_manager):
    near, far = ItemFactory(), ItemFactory()
    stock(far, StoreroomFactory(code="NORTH"), 2)
    place(near, far)

    row = ask(as_manager)["results"][0]

    assert row["covers"][0] == {
        "item": far.stock_number,
        "grade": "drop_in",
        "available": 2,
        "stock": [{"storeroom": "NORTH", "available": 2, "minutes": None}],
        "further_storerooms": 0,
    }
    assert (row["needs_transfer"], row["transfer_from"], row["transfer_minutes"]) == (True, None, None)


def test_what_is_not_known_comes_last_and_is_null(as_manager):
    place(ItemFactory(lead_time_days=None), criticality="vital")
    place(ItemFactory(), downtime_cost_per_hour=None)
    place(ItemFactory())

    answer = ask(as_manager)

    assert [row["chance"] is None for row in answer["results"]] == [False, False, True]
    assert [row["downtime_cost_per_hour"] is None for row in answer["results"]] == [False, True, False]
    notes = {note["code"]: note["values"] for note in answer["notes"]}
    assert notes["downtime_costs_not_known"] == {"positions": 1}
    assert notes["chances_not_known"] == {"positions": 1}
    last = answer["results"][-1]
    assert last["reason"]["code"] == "days_to_next_piece_not_known"
    assert last["reason"]["explanation"].endswith("enter its lead time.")


def test_it_says_where_a_neighbour_counts_as_if_it_needed_nothing(as_manager):
    shared = ItemFactory()
    stock(shared, StoreroomFactory(), 1)
    place(shared)
    assert "demand_not_known_counted_as_none" not in {note["code"] for note in ask(as_manager)["notes"]}
    Cover.objects.create(position=PositionFactory(), item=shared, grade="drop_in")

    forget_answers()
    answer = get_calculated(as_manager, ADDRESS, {"at": AT}).json()

    notes = {note["code"]: note["values"] for note in answer["notes"]}
    assert notes["demand_not_known_counted_as_none"] == {"positions": 1}
    assert answer["results"][-1]["reason"]["code"] == "chance_not_calculated_yet"


def test_without_cover_it_says_what_to_do(as_manager):
    PositionFactory()
    notes = {note["code"]: note["explanation"] for note in ask(as_manager)["notes"]}
    assert "start a stocking run first" in notes["cover_not_calculated"]


def test_without_a_stocking_run_it_says_so_and_gives_no_chance(as_manager):
    place(ItemFactory())
    answer = get_calculated(as_manager, ADDRESS).json()
    assert answer["notes"][0]["code"] == "demand_not_calculated"
    (row,) = answer["results"]
    assert (row["chance"], row["year"], row["reason"]["code"]) == (None, None, "chance_not_calculated_yet")


def test_it_says_that_the_record_went_on_after_the_stocking_run(as_manager):
    position = place(ItemFactory())
    calculate_demands()
    assert get_calculated(as_manager, ADDRESS).json()["notes"][0]["code"] == "demand_as_of_run"
    Request.objects.create(
        position=position, at=timezone.now(), storeroom=StoreroomFactory(), result="filled"
    )
    forget_answers()
    assert get_calculated(as_manager, ADDRESS).json()["notes"][0]["code"] == "demand_older_than_record"


def test_a_removal_after_the_stocking_run_is_newer_too(as_manager):
    position = place(ItemFactory())
    calculate_demands()
    history.remove(position, removed_at=timezone.now(), ended_by="failure")
    assert get_calculated(as_manager, ADDRESS).json()["notes"][0]["code"] == "demand_older_than_record"


def test_a_caller_finds_no_name_of_a_plant_that_he_may_not_see(as_manager):
    place(ItemFactory(), downtime_cost_per_hour=Decimal(900))
    calculate_demands()
    scope = AccessScope(plants=frozenset(), storerooms=None)
    with scoped_to(lambda: scope):
        shown = {
            name
            for need in needs_for_caller(stored_needs().needs)
            if need.downtime
            for one in need.downtime.drives
            for name in (one.drive, one.position)
        }
    assert shown == {ELSEWHERE}


def test_it_filters_by_plant_and_by_storeroom_and_limits_the_list(as_manager):
    here = [place(ItemFactory()) for _ in range(2)]
    other = PlantFactory(code="MILL", storeroom=StoreroomFactory(code="NORTH"))
    equipment = EquipmentFactory(tag="MILL-EL1", area=AreaFactory(plant=other))
    there = place(ItemFactory(), equipment=equipment)

    assert positions(ask(as_manager, plant="MILL")) == [there.tag]
    assert positions(ask(as_manager, storeroom="NORTH")) == [there.tag]
    assert set(positions(ask(as_manager, plant="WEIR"))) == {row.tag for row in here}
    short = ask(as_manager, limit=1)
    assert (short["judged"], len(short["results"])) == (3, 1)


def test_page_by_page_every_position_comes_once_in_the_same_order(as_manager):
    for number in range(5):
        place(ItemFactory(), downtime_cost_per_hour=Decimal(100 + 50 * number))
    whole = ask(as_manager)
    assert (len(whole["results"]), whole["next"]) == (5, None)
    first = as_manager.get(ADDRESS, {"at": AT, "limit": 2}).json()
    second = as_manager.get(first["next"]).json()
    third = as_manager.get(second["next"]).json()
    assert third["next"] is None
    assert [*first["results"], *second["results"], *third["results"]] == whole["results"]
    assert third["year"] == whole["year"]


def test_a_run_stores_the_list_for_the_answers_of_the_day(as_manager):
    place(ItemFactory())
    as_manager.post("/api/v1/stocking/runs/")
    while run_queued_jobs():
        pass
    answer = as_manager.get(ADDRESS)
    assert (answer.status_code, answer.json()["judged"]) == (200, 1)
    # The next run makes it old, and stores the next one.
    before = answer.json()["as_of"]
    as_manager.post("/api/v1/stocking/runs/")
    while run_queued_jobs():
        pass
    answer = as_manager.get(ADDRESS)
    assert answer.status_code == 200
    assert answer.json()["as_of"] > before


def test_lines_of_older_answers_are_dropped_once_a_newer_one_is_there(as_manager):
    place(ItemFactory())
    for _ in range(3):
        get_calculated(as_manager, ADDRESS, {"calculated_after": timezone.now().isoformat()})
    jobs = BackgroundJob.objects.filter(kind="exposure")
    assert jobs.count() == 3
    assert [one.exposure_lines.count() for one in jobs.order_by("pk")] == [0, 1, 1]


@pytest.mark.parametrize("criticality", ["vital", ""])
def test_sums_of_the_lines_are_those_of_all_positions(criticality):
    place(ItemFactory(lead_time_days=None), criticality="vital")
    place(ItemFactory(), downtime_cost_per_hour=None, criticality="")
    place(ItemFactory())
    calculate_demands(datetime.fromisoformat(AT))
    exposure = calculate_exposure(AT)
    chosen = [one for one in exposure.positions if one.position.criticality == criticality]
    sums = sums_of(exposure).of(importance=criticality or "unknown")
    assert sums.count() == len(chosen) == 1
    assert sums.count("not_known") == sum(one.chance is None for one in chosen)
    assert sums.count("without_price") == (criticality == "")
    assert sums.year == year_of_all(one.year for one in chosen if one.year)


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ({"storeroom": "NOWHERE"}, "storeroom"),
        ({"plant": "NOWHERE"}, "plant"),
        ({"limit": "0"}, "limit"),
        ({"after": "-1"}, "after"),
        ({"at": "tonight"}, "at"),
        ({"sort": "cost"}, "sort"),
    ],
)
def test_bad_parameters_are_named(as_manager, query, name):
    answer = as_manager.get(ADDRESS, query)

    assert answer.status_code == 400
    assert [row["parameter"] for row in answer.json()["errors"]] == [name]


def test_the_number_of_queries_does_not_depend_on_the_plant(as_manager, django_assert_num_queries):
    place(ItemFactory())
    ask(as_manager)
    with django_assert_num_queries(4):
        as_manager.get(ADDRESS, {"at": AT})
    cache.clear()
    with django_assert_num_queries(34):
        calculate_exposure(AT)
    for _ in range(3):
        place(ItemFactory())
    calculate_demands(datetime.fromisoformat(AT))
    cache.clear()
    with django_assert_num_queries(34):
        calculate_exposure(AT)


def test_strangers_stay_out(as_stranger):
    assert as_stranger.get(ADDRESS).status_code == 401


def test_it_refuses_a_moment_too_far_ahead(as_viewer):
    response = as_viewer.get("/api/v1/exposure/?at=7456-09-13T12:19:18Z")
    assert response.status_code == 400
    assert response.json()["errors"][0]["parameter"] == "at"

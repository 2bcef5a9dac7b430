from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.core.cache import cache

from drives.models import Cover, Request
from inventory.models import StockingTerms
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

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/exposure/"
AT = "2026-11-24T09:00:00+01:00"


def ask(client, **query):
    answer = client.get(ADDRESS, {"at": AT, **query})
    assert answer.status_code == 200, answer.content
    return answer.json()


def place(*items, asked=4, **drive):
    """A position that each of the items drops into, asked for so many times in two years."""
    position = PositionFactory(drive=DriveFactory(**drive))
    InstallationFactory(position=position, item=items[0], installed_at=datetime(2024, 1, 1, tzinfo=UTC))
    for item in items:
        Cover.objects.create(position=position, item=item, grade="drop_in")
    for number in range(asked):
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


def test_the_place_without_a_free_piece_comes_before_the_one_with(as_manager):
    bare, held = ItemFactory(), ItemFactory()
    stock(held, StoreroomFactory(), 5)
    safe, exposed = place(held), place(bare)

    answer = ask(as_manager)

    assert positions(answer) == [exposed.tag, safe.tag]
    first = answer["results"][0]
    assert first["chance"] == first["chance_to_ask"] > answer["results"][1]["chance"]
    assert (first["lead_time_days"], first["lead_time_item"]) == (21, bare.stock_number)


def test_it_is_money_once_the_hours_to_expedite_are_known(as_manager):
    place(ItemFactory(), downtime_cost_per_hour=Decimal("1000"))
    assert ask(as_manager)["results"][0]["expected_cost"] is None

    StockingTerms.objects.update_or_create(id=1, defaults={"hours_to_expedite": 10})
    row = ask(as_manager)["results"][0]

    assert float(row["expected_cost"]) == pytest.approx(row["chance"] * 10_000, abs=0.01)


def test_it_says_what_serves_a_place_and_where_that_lies(as_manager):
    near, far = ItemFactory(), ItemFactory()
    stock(far, StoreroomFactory(code="NORTH"), 2)
    place(near, far)

    row = ask(as_manager)["results"][0]

    assert row["covers"][0] == {
        "item": far.stock_number,
        "grade": "drop_in",
        "available": 2,
        "stock": [{"storeroom": "NORTH", "available": 2}],
    }
    assert row["needs_transfer"]


def test_what_is_not_known_stands_last_and_is_null(as_manager):
    place(ItemFactory(lead_time_days=None), criticality="vital")
    place(ItemFactory(), downtime_cost_per_hour=None)
    place(ItemFactory())

    answer = ask(as_manager)

    assert [row["chance"] is None for row in answer["results"]] == [False, False, True]
    assert [row["downtime_cost_per_hour"] is None for row in answer["results"]] == [False, True, False]
    assert any("1 without a downtime cost" in note for note in answer["notes"])
    assert any("1 whose chance cannot be told" in note for note in answer["notes"])


def test_without_any_cover_it_says_what_to_do(as_manager):
    PositionFactory()
    assert "run the stocking run first" in ask(as_manager)["notes"][0]


def test_it_filters_by_plant_and_by_storeroom_and_cuts_the_list(as_manager):
    here = [place(ItemFactory()) for _ in range(2)]
    other = PlantFactory(code="MILL", storeroom=StoreroomFactory(code="NORTH"))
    equipment = EquipmentFactory(tag="MILL-EL1", area=AreaFactory(plant=other))
    there = place(ItemFactory(), equipment=equipment)

    assert positions(ask(as_manager, plant="MILL")) == [there.tag]
    assert positions(ask(as_manager, storeroom="NORTH")) == [there.tag]
    assert set(positions(ask(as_manager, plant="WEIR"))) == {row.tag for row in here}
    short = ask(as_manager, limit=1)
    assert (short["judged"], len(short["results"])) == (3, 1)


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ({"storeroom": "NOWHERE"}, "storeroom"),
        ({"plant": "NOWHERE"}, "plant"),
        ({"limit": "0"}, "limit"),
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
    cache.clear()
    with django_assert_num_queries(24):
        ask(as_manager)
    for _ in range(3):
        place(ItemFactory())
    cache.clear()
    with django_assert_num_queries(24):
        ask(as_manager)


def test_strangers_stay_out(as_stranger):
    assert as_stranger.get(ADDRESS).status_code == 401


def test_it_names_a_moment_that_no_part_lives_to_see(as_viewer):
    response = as_viewer.get("/api/v1/exposure/?at=7456-09-13T12:19:18Z")
    assert response.status_code == 400
    assert response.json()["errors"][0]["parameter"] == "at"

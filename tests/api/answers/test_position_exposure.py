import pytest
from django.utils import timezone

from drives.exposure.risk_inputs import load_item_risk
from drives.models import Cover
from tests.factories import InstallationFactory, ItemFactory, PositionFactory, StoreroomFactory, stock
from tests.stored_demand import calculate_demands

pytestmark = pytest.mark.django_db


@pytest.fixture
def position():
    return PositionFactory()


def in_stock(pieces=1, **more):
    item = ItemFactory(**more)
    stock(item, StoreroomFactory(), pieces)
    return item


def covers(item, *positions):
    for position in positions:
        Cover.objects.create(position=position, item=item, grade="drop_in")


def ask(client, position, *items, **query):
    numbers = ",".join(item.stock_number for item in items)
    answer = client.get(f"/api/v1/positions/{position.tag}/exposure/", {"item": numbers, **query})
    assert answer.status_code == 200, answer.content
    return answer.json()


def test_the_last_piece_says_who_else_could_need_it(as_viewer, position):
    item, other = in_stock(), PositionFactory()
    covers(item, position, other)
    InstallationFactory(position=other, item=item)
    calculate_demands()

    answer = ask(as_viewer, position, item)

    (row,) = answer["results"]
    assert answer["as_of"] is not None
    assert (row["item"], row["is_last_piece"], row["lead_time_days"]) == (item.stock_number, True, 21)
    assert [(one["position"], one["criticality"], one["has_other"]) for one in row["positions"]] == [
        (other.tag, "essential", False)
    ]
    assert 0 < row["chance"] < 1
    assert row["chance"] == pytest.approx(row["positions"][0]["chance"], rel=1e-12)
    assert answer["notes"] == []


def test_several_items_come_in_the_order_of_the_query(as_viewer, position):
    first, second = in_stock(), in_stock(2)
    covers(first, position)
    covers(second, position)

    rows = ask(as_viewer, position, second, first)["results"]

    assert [(row["item"], row["is_last_piece"]) for row in rows] == [
        (second.stock_number, False),
        (first.stock_number, True),
    ]


def test_an_item_that_is_not_available_is_named(as_viewer, position):
    missing, item = ItemFactory(), in_stock()
    covers(item, position)

    answer = ask(as_viewer, position, missing, item)

    assert [row["item"] for row in answer["results"]] == [item.stock_number]
    (note,) = answer["notes"]
    assert (note["code"], note["values"]) == ("no_piece_available", {"item": missing.stock_number})
    assert missing.stock_number in note["explanation"]


def test_without_cover_it_says_what_to_do(as_viewer, position):
    answer = ask(as_viewer, position, in_stock())

    assert (answer["results"], [note["code"] for note in answer["notes"]]) == ([], ["cover_not_calculated"])


@pytest.mark.parametrize(
    ("query", "name"), [({}, "item"), ({"item": "SPR-NONE"}, "item"), ({"item": "SPR-1", "at": "now"}, "at")]
)
def test_bad_parameters_are_named(as_viewer, position, query, name):
    ItemFactory(stock_number="SPR-1")

    answer = as_viewer.get(f"/api/v1/positions/{position.tag}/exposure/", query)

    assert answer.status_code == 400
    assert [row["parameter"] for row in answer.json()["errors"]] == [name]


def test_an_unknown_position_is_404(as_viewer):
    assert as_viewer.get("/api/v1/positions/NONE/exposure/?item=SPR-1").status_code == 404


def test_strangers_stay_out(as_stranger, position):
    assert as_stranger.get(f"/api/v1/positions/{position.tag}/exposure/?item=SPR-1").status_code == 401


def test_a_position_that_came_after_the_calculation_is_named_not_guessed(as_viewer, position):
    item, other = in_stock(), PositionFactory()
    InstallationFactory(position=other, item=item)
    calculate_demands()
    later = PositionFactory()
    InstallationFactory(position=later, item=item)
    covers(item, position, other, later)

    answer = ask(as_viewer, position, item)

    chances = {one["position"]: one["chance"] for one in answer["results"][0]["positions"]}
    assert chances[other.tag] > 0
    assert chances[later.tag] is None
    result = answer["results"][0]
    assert (result["chance"], result["not_known"]) == (None, 1)
    assert result["chance_at_least"] == pytest.approx(chances[other.tag])
    (note,) = answer["notes"]
    assert (note["code"], note["values"]) == ("chances_not_calculated_yet", {"positions": 1})


def test_without_a_calculation_no_chance_is_made_up(as_viewer, position):
    item = in_stock()
    covers(item, position, PositionFactory())

    answer = ask(as_viewer, position, item)

    assert answer["as_of"] is None
    assert answer["results"][0]["chance"] is None
    assert [note["code"] for note in answer["notes"]] == ["chances_not_calculated_yet"]


def test_it_costs_the_same_queries_for_any_number_of_items_and_positions(
    as_viewer, position, django_assert_num_queries
):
    item, second = in_stock(), in_stock()
    covers(item, position)
    calculate_demands()
    with django_assert_num_queries(12):
        ask(as_viewer, position, item)
    covers(item, *(PositionFactory() for _ in range(4)))
    covers(second, position)
    calculate_demands()
    with django_assert_num_queries(12):
        ask(as_viewer, position, item, second)


def test_what_the_plant_has_elsewhere_is_not_read(position):
    item = in_stock()
    covers(item, position)
    inputs = load_item_risk(timezone.now(), [item.pk], position.pk)
    for _ in range(3):
        covers(in_stock(), PositionFactory())
    more = load_item_risk(timezone.now(), [item.pk], position.pk)
    for name in ("positions", "grades", "stock", "demands", "days_to_item", "minutes"):
        assert getattr(inputs, name) == getattr(more, name)

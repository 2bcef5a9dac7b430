"""A small plant with a wheel of unknown material: the list, the question at the count, and the answer that unblocks it."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from api.models import Change
from drives.assortment.measuring import attributes_to_measure, measure_question
from drives.demand.cover_refresh import refresh_cover
from drives.models import Cover, Position
from inventory.models import CountTask, Item, StockLevel, Storeroom
from inventory.models.access_scope import AccessScope, scoped_to
from tests import factories as make
from tests.api.records import errors, post

pytestmark = pytest.mark.django_db
LIST = "/api/v1/assortment/measure-next/"
TASKS = "/api/v1/count-tasks/"
PAGE = "/planning/measure-next/"


@pytest.fixture
def place() -> Position:
    return make.PositionFactory(
        tag="STEEP-P1", drive__criticality="vital", drive__downtime_cost_per_hour=Decimal(200)
    )


@pytest.fixture
def room(place: Position) -> Storeroom:
    return place.drive.equipment.area.plant.storeroom


@pytest.fixture
def wheel(room: Storeroom) -> Item:
    """Fits the position but for its bore, which nobody measured."""
    own = make.SprocketFactory(bore_mm=None, max_bore_mm=None)
    item = make.ItemFactory(stock_number="SPR-1", specification=own, unit_cost=40, currency="EUR")
    make.stock(item, room, 3)
    refresh_cover()
    return item


@pytest.fixture
def task(as_storeroom: APIClient, wheel: Item, room: Storeroom) -> int:
    body = {"item": "SPR-1", "storeroom": room.code}
    return int(post(as_storeroom, TASKS, body, key="t-1").json()["id"])


def lines(client: APIClient, **query: str) -> list[dict[str, Any]]:
    answer = client.get(LIST, query)
    assert answer.status_code == 200, answer.content
    found: list[dict[str, Any]] = answer.json()["results"]
    return found


def count(client: APIClient, task: int, key: str = "c-1", **body: Any) -> Any:
    return post(client, f"{TASKS}{task}/count/", body, key=key)


def test_the_money_of_the_shelf_and_of_the_stop_wait_for_the_bore(
    as_viewer: APIClient, wheel: Item, place: Position, room: Storeroom
) -> None:
    (line,) = lines(as_viewer)
    assert (line["item"], line["attribute"], line["verdicts"], line["vital"]) == ("SPR-1", "bore_mm", 1, 1)
    assert (line["pieces"], line["without_stock"], line["positions"]) == (3, 1, ["STEEP-P1"])
    # 3 pieces of 40, and 24 hours to expedite at 200: counted by hand.
    assert (line["stock_value"], line["stop_cost"], line["blocked"]) == ("120.00", "4800.00", "4920.00")
    other = make.StoreroomFactory(code="AWAY")
    assert lines(as_viewer, storeroom=room.code) == lines(as_viewer) != lines(as_viewer, storeroom=other.code)
    assert lines(as_viewer, plant=make.PlantFactory(code="OTHER").code) == []
    assert "storeroom" in as_viewer.get(LIST, {"storeroom": "NONE"}).content.decode()
    assert as_viewer.get(LIST, {"plant": "NONE"}).status_code == 400


def test_where_another_piece_serves_no_stop_waits(as_viewer: APIClient, wheel: Item, room: Storeroom) -> None:
    make.stock(make.ItemFactory(stock_number="SPR-2"), room, 1)
    refresh_cover()
    (line,) = lines(as_viewer)
    assert (line["without_stock"], line["stop_cost"], line["blocked"]) == (0, "0.00", "120.00")


def test_the_measured_bore_is_written_with_the_count_and_unblocks_the_verdict(
    as_storeroom: APIClient, wheel: Item, place: Position, task: int
) -> None:
    question = as_storeroom.get(f"{TASKS}{task}/question/").json()["question"]
    assert (question["attribute"], question["verdicts"], question["also_items"]) == ("bore_mm", 1, [])
    assert "calliper" in question["how"]["explanation"]
    shown = count(as_storeroom, task, counted=3, measured={"bore_mm": 25}).json()
    assert (shown["state"], shown["measured"]) == (
        "counted",
        {"bore_mm": {"value": 25.0, "basis": "measured"}},
    )
    wheel.refresh_from_db()
    assert wheel.specification is not None
    assert wheel.specification.bore_mm == 25
    assert "by the storeroom: bore_mm 25" in wheel.note
    assert {"inventory.item", "inventory.specification"} <= set(
        Change.objects.values_list("record", flat=True)
    )
    # Left out at once, and judged by the next run.
    assert lines(as_storeroom) == []
    refresh_cover()
    assert Cover.objects.get(item=wheel, position=place).grade == "drop_in"
    assert as_storeroom.get(f"{TASKS}{task}/question/").json()["question"] is None


@pytest.mark.parametrize(
    ("measured", "pointer", "words"),
    [
        ({"teeth": 17}, "/measured/teeth", "recorded already"),
        ({"bore_mm": 0.984}, "/measured/bore_mm", "inches"),
        ({"bore_mm": 60}, "/measured/bore_mm", "smaller than the bore"),
        ({"bore_mm": 5.9, "max_bore_mm": 5}, "/measured/bore_mm", "inches"),
        ({"outside_diameter_mm": 140}, "/measured/outside_diameter_mm", ""),
        ({"mass_kg": 2}, "/measured/mass_kg", ""),
    ],
)
def test_what_cannot_be_is_refused_by_its_name_and_nothing_is_booked(
    as_storeroom: APIClient, wheel: Item, task: int, measured: dict[str, Any], pointer: str, words: str
) -> None:
    refused = count(as_storeroom, task, counted=1, measured=measured)
    assert refused.status_code == 400
    assert words in errors(refused)[pointer]
    wheel.refresh_from_db()
    assert (StockLevel.objects.get().on_hand, CountTask.objects.get().state, wheel.note) == (3, "open", "")
    assert count(as_storeroom, task, key="c-2", counted=3).json()["measured"] == {}


def test_a_shared_specification_names_the_other_numbers(
    as_storeroom: APIClient, wheel: Item, task: int
) -> None:
    other = make.ItemFactory(stock_number="SPR-9", specification=wheel.specification)
    assert as_storeroom.get(f"{TASKS}{task}/question/").json()["question"]["also_items"] == ["SPR-9"]
    count(as_storeroom, task, counted=3, measured={"bore_mm": 25})
    assert Item.objects.get(pk=other.pk).specification.bore_mm == 25


def test_an_unknown_chain_is_asked_for_by_the_measurement_that_decides_best(
    as_storeroom: APIClient, wheel: Item, task: int
) -> None:
    own = wheel.specification
    assert own is not None
    for name in ("pitch_mm", "roller_diameter_mm", "inner_width_mm", "transverse_pitch_mm"):
        setattr(own, name, None)
    own.chain_designation, own.bore_mm = "", Decimal(25)
    own.save()
    refresh_cover()
    question = as_storeroom.get(f"{TASKS}{task}/question/").json()["question"]
    assert (question["attribute"], question["how"]["code"]) == ("chain", "measure_next")
    shown = count(as_storeroom, task, counted=3, measured={"chain": "08B"})
    assert shown.status_code == 200, shown.content
    refresh_cover()
    assert Cover.objects.get(item=wheel).grade == "drop_in"


def test_shelves_and_positions_of_another_site_are_not_shown(
    wheel: Item, place: Position, room: Storeroom
) -> None:
    today, plant = timezone.localdate(), place.drive.equipment.area.plant
    for seen in (AccessScope(plants=frozenset()), AccessScope(storerooms=frozenset())):
        with scoped_to(lambda seen=seen: seen):
            assert attributes_to_measure(today) == []
    with scoped_to(lambda: AccessScope(plants=frozenset())):
        assert measure_question(wheel, today) is None
    with scoped_to(lambda: AccessScope(frozenset({plant.pk}), frozenset({room.pk}))):
        assert len(attributes_to_measure(today)) == 1


def test_the_page_leads_to_the_count_and_measures(wheel: Item, room: Storeroom) -> None:
    client = Client()
    client.force_login(make.AdminFactory())
    text = client.get(PAGE).content.decode()
    assert "SPR-1" in text
    assert "would serve there with a fitting value" in " ".join(text.split())
    form = {"item": "SPR-1", "storeroom": room.code, "condition": "new"}
    address = client.post(PAGE, form).headers["Location"]
    assert "Put the inner jaws" in client.get(address).content.decode()
    sent = {"counted": "3", "attribute": "bore_mm", "measured": "60"}
    assert client.post(address, sent).status_code == 400
    assert client.post(address, {**sent, "counted": ""}).status_code == 400
    assert CountTask.objects.get().state == "open"
    assert client.post(address, {**sent, "measured": "25,0"}).status_code == 302
    assert "measured" in client.get(address).content.decode()
    assert CountTask.objects.get().measured["bore_mm"]["value"] == 25.0


def test_a_reader_may_look_and_not_count(wheel: Item, room: Storeroom) -> None:
    client = Client()
    client.force_login(make.UserFactory())
    assert client.get(PAGE).status_code == 200
    assert client.post(PAGE, {"item": "SPR-1", "storeroom": room.code}).status_code == 403

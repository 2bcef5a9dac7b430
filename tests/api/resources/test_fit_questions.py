import json
from typing import Any

import pytest
from rest_framework.test import APIClient

from api.webhooks.message import body_of
from inventory.models import Event, FitQuestion, Item, StockEntry, Storeroom
from tests import factories as make
from tests import movements
from tests.api.records import errors, names, post

pytestmark = pytest.mark.django_db
PATH = "/api/v1/fit-questions/"
MOVEMENTS = "/api/v1/movements/"


@pytest.fixture
def main(db: None) -> Storeroom:
    return make.StoreroomFactory()


@pytest.fixture
def sprocket(main: Storeroom) -> Item:
    item = make.ItemFactory(stock_number="SPR-1")
    make.stock(item, main, 5)
    return item


def misfit(client: APIClient, key: str = "k-1", **more: Any) -> Any:
    body = {"kind": "return", "item": "SPR-1", "storeroom": "MAIN", "quantity": 1}
    return post(client, MOVEMENTS, body | {"reason_code": "did_not_fit"} | more, key=key)


def test_a_misfit_opens_a_question_with_what_to_measure(as_storeroom: APIClient, sprocket: Item) -> None:
    place = make.PositionFactory(shaft_diameter_mm=22)
    returned = misfit(as_storeroom, position=place.tag, work_order="WO-1").json()
    (question,) = as_storeroom.get(PATH).json()["results"]
    assert (question["movement"], question["item"], question["work_order"]) == (
        returned["id"],
        "SPR-1",
        "WO-1",
    )
    assert question["measure"]["code"] == "measure_bore_and_shaft"
    values = {"item": "SPR-1", "offered": 25, "position": place.tag, "required": 22}
    assert question["measure"]["values"] == values
    assert question["measure"]["explanation"].endswith(f": 25 is recorded for SPR-1, 22 for {place.tag}.")
    assert question["verdict"]["grade"] == "unfit"
    event = Event.objects.get(type="fit_question.opened")
    assert event.data["position"] == place.tag
    assert json.loads(body_of(event))["data"]["measure"] == question["measure"]


@pytest.mark.parametrize(
    ("reason", "code"),
    [
        ("bore too tight", "measure_bore_and_shaft"),
        ("Bohrung zu eng", "measure_bore_and_shaft"),
        ("keyway too narrow for the bore", "measure_keyseat_and_key"),
        ("rubs on the guard", "measure_room_in_guard"),
        ("one tooth too many", "count_teeth"),
        ("hub too long", "measure_hub"),
        ("no idea", "measure_keyseat_and_key"),
        ("", "measure_keyseat_and_key"),
    ],
)
def test_the_question_follows_the_reason_then_the_least_margin(
    reason: str, code: str, as_storeroom: APIClient, sprocket: Item
) -> None:
    misfit(as_storeroom, position=make.PositionFactory().tag, reason=reason)
    question = FitQuestion.objects.get()
    assert (question.verdict["grade"], question.measure_fact["code"]) == ("drop_in", code)


@pytest.mark.parametrize(
    ("reason", "attribute"),
    [("key too wide", "keyway_width_mm"), ("17 teeth? I count 18 teeth", "teeth"), ("?", "bore_mm")],
)
def test_without_a_place_the_reason_says_what_is_measured(
    reason: str, attribute: str, as_storeroom: APIClient, sprocket: Item
) -> None:
    misfit(as_storeroom, reason=reason)
    assert FitQuestion.objects.get().measure_fact["values"]["attribute"] == attribute


def test_what_the_records_do_not_know_is_measured_before_what_fits(
    as_storeroom: APIClient, main: Storeroom
) -> None:
    part = make.SprocketFactory(keyway_width_mm=None, keyway_depth_mm=None, key_standard="")
    make.stock(make.ItemFactory(stock_number="SPR-1", specification=part), main, 1)
    misfit(as_storeroom, position=make.PositionFactory().tag)
    assert FitQuestion.objects.get().measure_fact["code"] == "measure_keyseat_and_key"


def test_the_position_is_known_from_the_issue(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    place = make.PositionFactory()
    movements.issue(sprocket, main, 1, by="Marta Keller", work_order="WO-1", position=place.tag)
    misfit(as_storeroom, work_order="WO-1")
    question = FitQuestion.objects.get()
    assert (question.position, question.verdict["grade"]) == (place.tag, "drop_in")


@pytest.mark.parametrize(
    ("part", "code", "values"),
    [
        ({}, "measure_recorded_attribute", {"attribute": "bore_mm", "recorded": 25.0}),
        (
            {"bore_type": "", "bore_mm": None},
            "measure_attribute_not_recorded",
            {"attribute": "bore_mm"},
        ),
    ],
)
def test_without_a_place_the_most_doubtful_attribute_is_measured(
    part: dict[str, Any], code: str, values: dict[str, Any], as_storeroom: APIClient, main: Storeroom
) -> None:
    item = make.ItemFactory(stock_number="SPR-1", specification=make.SprocketFactory(**part))
    make.stock(item, main, 1)
    misfit(as_storeroom)
    assert FitQuestion.objects.get().measure_fact == {"code": code, "values": values}


def test_a_question_from_before_codes_keeps_its_sentence(as_storeroom: APIClient, sprocket: Item) -> None:
    misfit(as_storeroom)
    FitQuestion.objects.update(measure="Measure the bore.", measure_fact={})
    (question,) = as_storeroom.get(PATH).json()["results"]
    measure = question["measure"]
    assert (measure["code"], measure["explanation"]) == ("recorded_text", "Measure the bore.")


def test_no_other_return_asks(as_storeroom: APIClient, sprocket: Item) -> None:
    for number, code in enumerate(["not_needed", "defective", None]):
        assert misfit(as_storeroom, key=f"k-{number}", reason_code=code).status_code == 201
    assert not FitQuestion.objects.exists()


def test_a_movement_without_its_question_is_not_booked(
    as_storeroom: APIClient, sprocket: Item, monkeypatch: Any
) -> None:
    def fail(*args: Any, **kwargs: Any) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(FitQuestion.objects, "create", fail)
    as_storeroom.raise_request_exception = False
    assert misfit(as_storeroom).status_code == 500
    assert StockEntry.objects.count() == 1


def test_it_is_answered_once(as_storeroom: APIClient, as_viewer: APIClient, sprocket: Item) -> None:
    misfit(as_storeroom)
    path = f"{PATH}{FitQuestion.objects.get().pk}/"
    assert post(as_viewer, f"{path}answer/", {"answer": "x"}).status_code == 403
    assert errors(post(as_storeroom, f"{path}answer/", {}, key="a-0")).keys() == {"/answer"}
    found = post(as_storeroom, f"{path}answer/", {"answer": "bore is 24.9"}, key="a-1")
    assert (found.status_code, found.json()["answer"]) == (200, "bore is 24.9")
    assert found.json()["answered_by"] == "the storeroom"
    assert found["ETag"] == as_storeroom.get(path)["ETag"]
    refused = post(as_storeroom, f"{path}answer/", {"answer": "y"}, key="a-2")
    assert (refused.status_code, refused.json()["code"]) == (409, "fit_question_already_answered")
    assert names(as_viewer.get(f"{PATH}?answered=true&item=SPR-1"), "answer") == ["bore is 24.9"]
    assert names(as_viewer.get(f"{PATH}?answered=false"), "answer") == []

from typing import Any

import pytest
from rest_framework.test import APIClient

from drives.service_record import history
from tests import factories as make
from tests.api.records import change, errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/positions/"
DRIVER = {
    "tag": "P-1",
    "drive": "D-1",
    "name": "Driver",
    "role": "driver",
    "idler_kind": None,
    "teeth": 17,
    "minimum_teeth": None,
    "shaft_kind": "keyed",
    "shaft_diameter_mm": 25.4,
    "key_width_mm": 6.35,
    "key_height_mm": 6.35,
    "keyway_depth_mm": 2.8,
    "key_standard": "ASME B17.1",
    "hex_across_flats_mm": None,
    "bush_size": "1610",
    "hub_style": "B",
    "material": "stainless_steel",
    "hardened_teeth": True,
    "envelope_outside_diameter_mm": 90,
    "envelope_hub_diameter_mm": 60,
    "envelope_length_through_bore_mm": 30,
    "requirement_basis": "stated",
    "in_use_from": None,
    "in_use_until": None,
    "note": "",
}


@pytest.fixture(autouse=True)
def drive(db: None) -> None:
    make.DriveFactory(tag="D-1")


def test_it_answers_every_attribute_as_it_was_given(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, DRIVER)
    assert made.status_code == 201, made.content
    assert (DRIVER | {"plant": "WEIR", "fitted": None}).items() <= made.json().items()


def test_it_shows_the_unit_that_sits_there_now(as_viewer: APIClient) -> None:
    place = make.PositionFactory(tag="P-1")
    first = make.InstallationFactory(position=place)
    history.remove(first, removed_at=make.MORNING.replace(day=6), ended_by="failure")
    assert as_viewer.get(f"{PATH}P-1/").json()["fitted"] is None
    unit = make.InstallationFactory(
        position=place, item=make.ItemFactory(stock_number="SPR-2"), installed_at=make.MORNING.replace(day=7)
    )
    assert as_viewer.get(f"{PATH}P-1/").json()["fitted"] == {
        "installation": unit.pk,
        "item": "SPR-2",
        "specification": unit.specification_id,
        "teeth": None,
        "installed_at": "2024-03-07T06:30:00Z",
        "temporary_until": None,
    }


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong: dict[str, Any] = {
        "tag": "P//1",
        "drive": "NOWHERE",
        "role": "tensioner",
        "idler_kind": "loose",
        "teeth": 401,
        "minimum_teeth": 5,
        "shaft_kind": "round",
        "shaft_diameter_mm": 1.9375,
        "key_width_mm": 0.25,
        "key_standard": "DIN 6885",
        "bush_size": "1610-25",
        "hub_style": "E",
        "material": "steel",
        "hardened_teeth": "yes",
        "envelope_outside_diameter_mm": 1e6,
        "requirement_basis": "guess",
        "in_use_from": 2020,
        "fitted": {},
    }
    response = as_manager.post(PATH, wrong)
    assert (response.status_code, set(errors(response))) == (400, {f"/{name}" for name in wrong})


def test_what_is_left_out_of_a_put_is_not_known(as_manager: APIClient) -> None:
    as_manager.post(PATH, DRIVER)
    replaced = change(
        as_manager, f"{PATH}P-1/", {"tag": "P-1", "drive": "D-1", "role": "driven"}, "put"
    ).json()
    assert (replaced["role"], replaced["teeth"], replaced["bush_size"]) == ("driven", None, None)


def test_one_with_a_history_cannot_be_deleted(as_manager: APIClient) -> None:
    path = f"{PATH}{make.InstallationFactory().position.tag}/"
    response = as_manager.delete(path, HTTP_IF_MATCH=as_manager.get(path)["ETag"])
    assert (response.status_code, response.json()["blockers"][0]["kind"]) == (409, "installation")


@pytest.mark.parametrize(
    ("query", "tags"),
    [
        ("", ["P-1", "P-2"]),
        ("drive=D-1", ["P-1", "P-2"]),
        ("role=driven,idler", ["P-2"]),
        ("teeth__gte=18", ["P-2"]),
        ("shaft_diameter_mm=25.4", ["P-2"]),
        ("fitted=true", ["P-1"]),
        ("fitted=false", ["P-2"]),
        ("item=SPR-1", ["P-1"]),
        ("chain=08B&plant=WEIR&area=STEEP&equipment=STEEP-EL1", ["P-1", "P-2"]),
        ("bush_size=2012", ["P-2"]),
        ("requirement_basis=copied_from_fitted", ["P-2"]),
        ("q=driven shaft", ["P-2"]),
        ("ordering=-teeth", ["P-2", "P-1"]),
    ],
)
def test_it_is_filtered(query: str, tags: list[str], as_viewer: APIClient) -> None:
    drive = make.DriveFactory(tag="D-1")
    first = make.PositionFactory(tag="P-1", drive=drive)
    make.DrivenFactory(
        tag="P-2",
        drive=drive,
        shaft_diameter_mm="25.4",
        bush_size="2012",
        requirement_basis="copied_from_fitted",
    )
    make.InstallationFactory(position=first, item=make.ItemFactory(stock_number="SPR-1"))
    assert names(as_viewer.get(f"{PATH}?{query}"), "tag") == tags


@pytest.mark.parametrize("query", ["role=tensioner", "fitted=1", "teeth=many", "shaft_diameter=25"])
def test_a_filter_that_is_not_understood_is_refused(query: str, as_viewer: APIClient) -> None:
    assert as_viewer.get(f"{PATH}?{query}").status_code == 400

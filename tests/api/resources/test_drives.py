from typing import Any

import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import change, errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/drives/"
HEAD = {
    "tag": "KILN-C1-D1",
    "equipment": "STEEP-EL1",
    "name": "Head drive",
    "chain": "40",
    "strands": 2,
    "links": 114,
    "centre_distance_mm": 500.5,
    "centre_adjustment_min_mm": -10,
    "centre_adjustment_max_mm": 10.5,
    "fixed_centres": False,
    "power_kw": 1.1,
    "driver_speed_rpm": 500,
    "service_factor": 1.4,
    "ratio_tolerance_percent": 2,
    "lubrication": "drip",
    "environment": ["washdown", "food"],
    "temperature_c": 21.5,
    "hours_per_year": 6000,
    "criticality": "vital",
    "downtime_cost_per_hour": "420.00",
    "currency": "EUR",
    "lifting": True,
    "reversing": None,
    "shock": "moderate",
    "food_contact_required": True,
    "non_sparking_required": False,
    "hardened_teeth_required": None,
    "fitting_minutes": 60,
    "in_use_from": "2020-01-31",
    "in_use_until": None,
    "note": "guard needs two",
}


@pytest.fixture(autouse=True)
def elevator(db: None) -> None:
    make.EquipmentFactory()


def test_it_answers_every_attribute_as_it_was_given(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, HEAD)
    assert made.status_code == 201, made.content
    expected = HEAD | {"chain": "08A", "pitch_mm": 12.7, "plant": "WEIR", "positions": []}
    assert expected.items() <= made.json().items()


def test_it_names_its_positions(as_viewer: APIClient) -> None:
    drive = make.DriveFactory(tag="D-1")
    make.DrivenFactory(drive=drive, tag="P-2")
    make.PositionFactory(drive=drive, tag="P-1")
    assert as_viewer.get(f"{PATH}D-1/").json()["positions"] == ["P-1", "P-2"]


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {
        "equipment": "NOWHERE",
        "name": "",
        "chain": "08BB",
        "strands": 11,
        "links": 40_000,
        "centre_distance_mm": 19.7,
        "centre_adjustment_min_mm": "x",
        "power_kw": -1.1,
        "driver_speed_rpm": 1e9,
        "service_factor": True,
        "ratio_tolerance_percent": 101,
        "lubrication": "grease",
        "environment": ["wet"],
        "temperature_c": 1e4,
        "hours_per_year": 8785,
        "criticality": "high",
        "downtime_cost_per_hour": 420,
        "currency": "eur",
        "lifting": "no",
        "shock": "none",
        "fitting_minutes": 1.5,
        "in_use_from": "31.01.2020",
    }
    response = as_manager.post(PATH, wrong | {"tag": "D-1"})
    assert response.status_code == 400
    assert {pointer.split("/")[1] for pointer in errors(response)} == set(wrong)
    assert "Is that inches? 19.7 in is 500.38 mm." in errors(response)["/centre_distance_mm"]


@pytest.mark.parametrize(
    ("more", "member"),
    [
        ({"centre_adjustment_min_mm": 11}, "centre_adjustment_min_mm"),
        ({"in_use_until": "2019-01-31"}, "in_use_from"),
        ({"centre_distance_mm": 45}, "centre_distance_mm"),
        ({"pitch_mm": 15.875}, "pitch_mm"),
    ],
)
def test_what_does_not_go_together_is_asked_about(more: Any, member: str, as_manager: APIClient) -> None:
    response = as_manager.post(PATH, HEAD | more)
    assert (response.status_code, set(errors(response))) == (400, {f"/{member}"})


def test_a_patch_leaves_the_rest_as_it_stands(as_manager: APIClient) -> None:
    as_manager.post(PATH, HEAD)
    changed = change(as_manager, f"{PATH}KILN-C1-D1/", {"environment": [], "links": None}).json()
    assert (changed["environment"], changed["links"], changed["power_kw"]) == ([], None, 1.1)


def test_one_with_positions_cannot_be_deleted(as_manager: APIClient) -> None:
    make.PositionFactory(drive=make.DriveFactory(tag="D-1"), tag="P-1")
    response = as_manager.delete(f"{PATH}D-1/", HTTP_IF_MATCH=as_manager.get(f"{PATH}D-1/")["ETag"])
    assert (response.status_code, response.json()["blockers"]) == (409, [{"kind": "position", "name": "P-1"}])


@pytest.mark.parametrize(
    ("query", "tags"),
    [
        ("", ["D-1", "D-2"]),
        ("chain=40", ["D-2"]),
        ("strands__gte=2", ["D-2"]),
        ("equipment=STEEP-EL1&plant=WEIR&area=STEEP", ["D-1", "D-2"]),
        ("plant=MILL", []),
        ("criticality=vital,essential&ordering=-tag", ["D-2", "D-1"]),
        ("environment=food", ["D-2"]),
        ("environment=food,clean_dry", ["D-1", "D-2"]),
        ("environment=hot", []),
        ("lifting=true", ["D-2"]),
        ("power_kw__gte=1.1&power_kw__lte=1.1", ["D-1"]),
        ("driver_speed_rpm=500", ["D-1", "D-2"]),
        ("temperature_c__lte=-10", ["D-2"]),
        ("in_use_from__gte=2020-01-01", ["D-2"]),
        ("lubrication=manual", ["D-1", "D-2"]),
        ("q=head steep", ["D-1", "D-2"]),
    ],
)
def test_it_is_filtered(query: str, tags: list[str], as_viewer: APIClient) -> None:
    make.DriveFactory(tag="D-1")
    make.DriveFactory(
        tag="D-2",
        chain_designation="08A",
        strands=2,
        power_kw=3,
        environment=["washdown", "food"],
        criticality="vital",
        lifting=True,
        temperature_c=-15,
        in_use_from="2020-01-31",
    )
    assert names(as_viewer.get(f"{PATH}?{query}"), "tag") == tags


@pytest.mark.parametrize("query", ["environment=wet", "chain=x", "in_use_from__gte=soon", "power_kw=1kw"])
def test_a_filter_that_is_not_understood_is_refused(query: str, as_viewer: APIClient) -> None:
    assert as_viewer.get(f"{PATH}?{query}").status_code == 400

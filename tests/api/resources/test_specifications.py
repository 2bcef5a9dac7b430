from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Specification
from inventory.standards.chains import find_chain
from inventory.standards.tooth_form import tooth_form
from tests import factories as make
from tests.api.records import change, errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/specifications/"
SPROCKET = {
    "kind": "sprocket",
    "chain": "08B",
    "strands": 1,
    "teeth": 17,
    "role_kind": "drive",
    "hub_style": "B",
    "bore_type": "finished",
    "bore_mm": 25,
    "max_bore_mm": 28,
    "keyway_width_mm": 8,
    "keyway_depth_mm": 3.3,
    "key_standard": "ISO 773",
    "set_screws": 2,
    "hub_diameter_mm": 52,
    "length_through_bore_mm": 28,
    "material": "carbon_steel",
    "material_grade": "C45",
    "hardened_teeth": False,
    "food_contact": True,
    "non_sparking": None,
    "mass_kg": 0.42,
}


def test_it_answers_every_attribute_as_it_was_given(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, SPROCKET)
    assert made.status_code == 201
    assert SPROCKET.items() <= made.json().items()
    assert made.json()["pitch_mm"] == 12.7
    assert made.json()["outside_diameter_mm"] is None


def test_an_asme_number_is_answered_as_its_iso_name(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, {"chain": "40", "teeth": 17})
    assert (made.json()["chain"], made.json()["roller_diameter_mm"]) == ("08A", 7.92)


def test_the_tooth_form_comes_with_it(as_manager: APIClient) -> None:
    geometry = as_manager.post(PATH, SPROCKET).json()["geometry"]
    form = tooth_form(find_chain("08B"), 17)
    assert geometry["pitch_diameter_mm"] == pytest.approx(form.pitch_diameter_mm, abs=1e-6)
    assert geometry["caliper_diameter_mm"] == pytest.approx(form.caliper_diameter_mm, abs=1e-6)
    assert set(geometry) >= {"outside_diameter_min_mm", "root_diameter_mm", "over_pins_mm"}


@pytest.mark.parametrize("body", [{"chain": "08B"}, {"teeth": 17}, {"kind": "chain", "chain": "08B"}])
def test_there_is_no_tooth_form_without_chain_and_teeth(body: Any, as_manager: APIClient) -> None:
    assert as_manager.post(PATH, body).json()["geometry"] is None


OWN = {"pitch_mm": 31.75, "roller_diameter_mm": 17.81, "inner_width_mm": 16, "transverse_pitch_mm": 40}


@pytest.mark.parametrize("body", [OWN, {"chain": OWN}, {"chain": None} | OWN])
def test_a_chain_of_own_dimensions_has_no_name(body: Any, as_manager: APIClient) -> None:
    made = as_manager.post(PATH, {"teeth": 17} | body)
    assert made.status_code == 201, made.content
    assert {"chain": None, **OWN}.items() <= made.json().items()


def test_own_dimensions_are_given_once(as_manager: APIClient) -> None:
    body = {"chain": {"pitch_mm": 12.7, "colour": "red"}, "pitch_mm": 12.7, "teeth": 5}
    found = errors(as_manager.post(PATH, body))
    assert set(found) == {"/chain/pitch_mm", "/chain/colour", "/teeth"}


@pytest.mark.parametrize(
    ("given", "kept"), [(0.396875 * 64, "25.4"), (15.875, "15.875"), (25.003969, "25.003969")]
)
def test_lengths_are_kept_to_a_millionth(given: float, kept: str, as_manager: APIClient) -> None:
    made = as_manager.post(PATH, {"bore_mm": given})
    assert Specification.objects.get(pk=made.json()["id"]).bore_mm == Decimal(kept)
    assert made.json()["bore_mm"] == float(kept)


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    body = {
        "kind": "wheel",
        "chain": "08BB",
        "teeth": 5,
        "strands": 11,
        "hub_style": "E",
        "bore_mm": 1000,
        "max_bore_mm": "28",
        "keyway_width_mm": 8.12345678,
        "set_screws": 40_000,
        "hardened_teeth": "no",
        "mass_kg": -1,
        "colour": "red",
        "geometry": {},
    }
    response = as_manager.post(PATH, body)
    assert response.status_code == 400
    assert set(errors(response)) == {f"/{name}" for name in body}


@pytest.mark.parametrize(
    ("body", "pointers", "code"),
    [
        ({}, {"/kind"}, "specification_without_attributes"),
        ({"kind": "sprocket"}, {""}, "specification_without_attributes"),
        ({"kind": "chain", "teeth": None, "bush_size": None}, {""}, "specification_without_attributes"),
    ],
)
def test_an_empty_specification_is_refused(
    body: Any, pointers: set[str], code: str, as_manager: APIClient
) -> None:
    refused = as_manager.post(PATH, body)
    assert (refused.status_code, set(errors(refused))) == (400, pointers)
    assert refused.json()["code"] == code
    assert as_manager.post(PATH, {"kind": "bush", "bush_size": "1610"}).status_code == 201


def test_a_specification_is_not_emptied(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, {"kind": "bush", "bush_size": "1610"}).json()
    address = f"{PATH}{made['id']}/"
    assert change(as_manager, address, {"bush_size": None}).status_code == 400
    assert change(as_manager, address, {"kind": "bush"}, method="put").status_code == 400


def test_an_unknown_chain_names_the_nearest(as_manager: APIClient) -> None:
    (row,) = as_manager.post(PATH, {"chain": "08BB"}).json()["errors"]
    assert (row["pointer"], row["code"]) == ("/chain", "chain_not_known")
    assert "08B" in row["values"]["nearest"]


@pytest.mark.parametrize(
    ("member", "value", "question"),
    [
        ("bore_mm", 2.0, "Is that inches? 2 in is 50.8 mm."),
        ("bore_mm", 1.9375, "Is that inches? 1.9375 in is 49.2125 mm."),
        ("pitch_mm", 0.5, "Is that inches? 0.5 in is 12.7 mm."),
        ("bore_mm", 1000, "1000 mm is outside 6 to 600 mm. Is the value in millimetres?"),
        ("bore_mm", 0, "0 mm is outside 6 to 600 mm."),
        ("bore_mm", -25, "-25 mm is outside"),
    ],
)
def test_a_doubtful_length_is_asked_about(
    member: str, value: float, question: str, as_manager: APIClient
) -> None:
    response = as_manager.post(PATH, {member: value})
    assert response.status_code == 400
    assert question in errors(response)[f"/{member}"]


def test_sizes_that_do_not_go_together_are_named_beside_a_bad_member(as_manager: APIClient) -> None:
    body = {"chain": "08B", "teeth": 17, "bore_mm": 30, "max_bore_mm": 28, "strands": 0}
    found = errors(as_manager.post(PATH, body))
    assert set(found) == {"/bore_mm", "/strands"}
    assert "max_bore_mm must not be smaller than bore_mm" in found["/bore_mm"]


def test_a_dimension_of_another_chain_is_asked_about(as_manager: APIClient) -> None:
    (row,) = as_manager.post(PATH, {"chain": "08B", "pitch_mm": 15.875}).json()["errors"]
    assert (row["pointer"], row["code"]) == ("/pitch_mm", "dimension_not_of_the_chain")
    assert row["values"] == {"given_mm": 15.875, "chain": "08B", "standard_mm": 12.7}
    assert "15.875 mm is not 08B, which has 12.7 mm" in row["detail"]


def test_a_length_that_stands_may_be_sent_back(as_manager: APIClient) -> None:
    small = make.SpecificationFactory(kind="bush", bore_mm=Decimal("5"))
    path = f"{PATH}{small.pk}/"
    assert change(as_manager, path, {"bore_mm": 5.0, "bush_size": "1008"}).status_code == 200
    assert change(as_manager, path, {"bore_mm": 4.0}).status_code == 400


def test_another_chain_brings_its_own_dimensions(as_manager: APIClient) -> None:
    path = f"{PATH}{make.SprocketFactory().pk}/"
    changed = change(as_manager, path, {"chain": "50"}).json()
    assert (changed["chain"], changed["pitch_mm"]) == ("10A", 15.875)


def test_put_takes_what_is_left_out_as_not_known_and_patch_leaves_it(as_manager: APIClient) -> None:
    path = f"{PATH}{make.SprocketFactory().pk}/"
    assert change(as_manager, path, {"bore_mm": None}).json()["hub_style"] == "B"
    replaced = change(as_manager, path, {"chain": "08B", "teeth": 19}, "put").json()
    assert (replaced["hub_style"], replaced["max_bore_mm"], replaced["teeth"]) == (None, None, 19)
    assert Specification.objects.get().hub_style == ""


def test_one_behind_an_item_cannot_be_deleted(as_manager: APIClient) -> None:
    item = make.ItemFactory(stock_number="SPR-0001")
    path = f"{PATH}{item.specification.pk}/"
    response = as_manager.delete(path, HTTP_IF_MATCH=as_manager.get(path)["ETag"])
    assert response.status_code == 409
    assert response.json()["blockers"] == [{"kind": "item", "name": "SPR-0001"}]


@pytest.mark.parametrize(
    ("query", "teeth"),
    [
        ("chain=08B", [17, 19, 25]),
        ("chain=40", [21]),
        ("chain=08B,40&teeth__gte=19&teeth__lte=21", [19, 21]),
        ("teeth=17", [17]),
        ("bore_type=tapered,plain", [19, 25]),
        ("bush_size=1610", [19]),
        ("hub_style=A", [21]),
        ("bore_mm__gte=20&bore_mm__lte=25.0", [17, 21]),
        ("bore_mm=12", [25]),
        ("hardened_teeth=true", [21]),
        ("material=cast_iron,stainless_steel", [25]),
        ("q=1610 08b", [19]),
        ("kind=bush", []),
        ("ordering=-teeth", [25, 21, 19, 17]),
    ],
)
def test_it_is_filtered_by_its_attributes(query: str, teeth: list[int], as_viewer: APIClient) -> None:
    make.SprocketFactory()
    make.BushedSprocketFactory()
    make.SprocketFactory(chain_designation="40", teeth=21, hub_style="A", hardened_teeth=True)
    make.PilotBoredFactory(teeth=25, material="cast_iron")
    assert names(as_viewer.get(f"{PATH}?{query}"), "teeth") == teeth


@pytest.mark.parametrize(
    "query", ["chain=08BB", "teeth=x", "hub_style=E", "hardened_teeth=1", "bore_mm__gte=1e3"]
)
def test_a_filter_that_is_not_understood_is_refused(query: str, as_viewer: APIClient) -> None:
    response = as_viewer.get(f"{PATH}?{query}")
    assert response.status_code == 400
    assert errors(response).keys() == {f"/{query.split('=', maxsplit=1)[0]}"}

from dataclasses import fields
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.catalogue.plant_practice import current_practice
from inventory.interchange.thresholds import Thresholds, range_of
from tests import factories as make
from tests.api.records import change, errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/rules/"


@pytest.mark.parametrize("threshold", fields(Thresholds), ids=lambda one: one.name)
def test_every_threshold_can_be_set(threshold: Any, as_manager: APIClient) -> None:
    made = as_manager.post(PATH, {"name": threshold.name, "value": 1, "note": "as at the other plant"})
    assert (made.status_code, made.json()["shipped_value"]) == (201, threshold.default)
    assert getattr(current_practice().thresholds, threshold.name) == 1


@pytest.mark.parametrize("threshold", fields(Thresholds), ids=lambda one: one.name)
def test_every_threshold_has_a_range_that_holds_what_is_shipped(threshold: Any) -> None:
    least, most = range_of(threshold.name)

    assert least <= threshold.default < most < 1e6


def test_a_rule_says_what_stands_behind_the_shipped_value(as_manager: APIClient) -> None:
    members = ("source_kind", "plausible_low", "plausible_high")
    unseen = as_manager.post(PATH, {"name": "idler_least_teeth", "value": 19}).json()
    seen = as_manager.post(PATH, {"name": "bore_tolerance_mm", "value": 0.01}).json()
    assert [unseen[name] for name in members] == ["memory", 15, 19]
    assert [seen[name] for name in members] == [None, None, None]


def test_a_name_that_is_no_threshold_names_the_nearest(as_manager: APIClient) -> None:
    found = errors(as_manager.post(PATH, {"name": "heavy_mas_kg", "value": "x"}))
    assert 'Did you mean "heavy_mass_kg"?' in found["/name"]
    assert "/value" in found


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("idler_least_teeth", 17.5),
        ("heavy_mass_kg", -1),
        ("heavy_mass_kg", 1e7),
        ("bore_tolerance_mm", 6),
        ("side_play_poor_share", 10),
    ],
)
def test_a_value_that_cannot_be_is_refused(name: str, value: float, as_manager: APIClient) -> None:
    response = as_manager.post(PATH, {"name": name, "value": value})
    assert (response.status_code, set(errors(response))) == (400, {"/value"})


def test_a_threshold_is_set_once(as_manager: APIClient) -> None:
    make.RuleFactory(name="heavy_mass_kg", value=20)
    response = as_manager.post(PATH, {"name": "heavy_mass_kg", "value": 30})
    assert (response.status_code, set(errors(response))) == (409, {"/name"})
    assert change(as_manager, f"{PATH}heavy_mass_kg/", {"value": 30}).json()["value"] == 30


def test_without_its_record_the_shipped_value_holds(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, {"name": "heavy_mass_kg", "value": 30})
    as_manager.delete(f"{PATH}heavy_mass_kg/", HTTP_IF_MATCH=made["ETag"])
    assert current_practice().thresholds.heavy_mass_kg == Thresholds().heavy_mass_kg


def test_it_is_filtered(as_viewer: APIClient) -> None:
    make.RuleFactory(name="heavy_mass_kg", value=20, note="two lift")
    make.RuleFactory(name="fast_driver_rpm", value=700)
    assert names(as_viewer.get(f"{PATH}?name=heavy_mass_kg"), "value") == [20]
    assert names(as_viewer.get(f"{PATH}?q=two"), "name") == ["heavy_mass_kg"]
    assert names(as_viewer.get(f"{PATH}?ordering=-name"), "value") == [20, 700]

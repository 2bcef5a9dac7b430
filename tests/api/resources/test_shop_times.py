import pytest
from rest_framework.test import APIClient

from inventory.catalogue.plant_practice import current_practice
from tests import factories as make
from tests.api.records import change, errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/shop-times/"


def test_minutes_recorded_here_are_used(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, {"operation": "bore", "minutes": 42, "basis": "recorded"})
    assert (made.status_code, made.json()["shipped_minutes"]) == (201, 30)
    assert current_practice().times.minutes["bore"] == 42  # type: ignore[index]


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {"operation": "polish", "minutes": 40_000, "basis": "guess", "note": "n" * 201}
    response = as_manager.post(PATH, wrong)
    assert (response.status_code, set(errors(response))) == (400, {f"/{name}" for name in wrong})


def test_an_operation_is_recorded_once(as_manager: APIClient) -> None:
    make.ShopTimeFactory()
    response = as_manager.post(PATH, {"operation": "bore", "minutes": 42})
    assert (response.status_code, set(errors(response))) == (409, {"/operation"})
    assert change(as_manager, f"{PATH}bore/", {"minutes": 42}).json()["minutes"] == 42


def test_it_is_filtered(as_viewer: APIClient) -> None:
    make.ShopTimeFactory()
    make.ShopTimeFactory(operation="face_hub", minutes=20, basis="recorded")
    assert names(as_viewer.get(f"{PATH}?basis=recorded"), "operation") == ["face_hub"]
    assert names(as_viewer.get(f"{PATH}?minutes__gte=30"), "operation") == ["bore"]
    assert names(as_viewer.get(f"{PATH}?operation=bore,face_hub&ordering=minutes"), "minutes") == [20, 35]

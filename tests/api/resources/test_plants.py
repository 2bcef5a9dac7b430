import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import change, errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/plants/"


def test_it_names_its_storeroom_and_its_shop(as_manager: APIClient) -> None:
    make.StoreroomFactory()
    body = {
        "code": "MILL",
        "name": "Mill Road",
        "timezone": "UTC",
        "storeroom": "MAIN",
        "machine_shop": "SHOP",
    }
    made = as_manager.post(PATH, body)
    assert made.status_code == 201
    assert body.items() <= made.json().items()
    assert change(as_manager, f"{PATH}MILL/", {"machine_shop": None}).json()["machine_shop"] is None


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {"code": "é", "name": None, "timezone": "Mars", "storeroom": "NOWHERE", "machine_shop": []}
    response = as_manager.post(PATH, wrong)
    assert (response.status_code, set(errors(response))) == (400, {f"/{name}" for name in wrong})


def test_one_with_areas_cannot_be_deleted(as_manager: APIClient) -> None:
    make.AreaFactory()
    response = as_manager.delete(f"{PATH}WEIR/", HTTP_IF_MATCH=as_manager.get(f"{PATH}WEIR/")["ETag"])
    assert response.status_code == 409
    assert response.json()["blockers"] == [{"kind": "area", "name": "WEIR/STEEP"}]


def test_it_is_filtered(as_viewer: APIClient) -> None:
    make.PlantFactory()
    make.PlantFactory(code="MILL", name="Mill Road", storeroom=None, timezone="UTC")
    assert names(as_viewer.get(f"{PATH}?storeroom=MAIN"), "code") == ["WEIR"]
    assert names(as_viewer.get(f"{PATH}?timezone=UTC"), "code") == ["MILL"]
    assert names(as_viewer.get(f"{PATH}?q=maltings"), "code") == ["WEIR"]
    assert names(as_viewer.get(f"{PATH}?machine_shop=SHOP&ordering=code"), "code") == ["MILL", "WEIR"]

import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/transfer-times/"


def test_each_way_has_its_minutes(as_manager: APIClient) -> None:
    make.TransferTimeFactory()
    made = as_manager.post(PATH, {"from_storeroom": "NORTH", "to_storeroom": "MAIN", "minutes": 55})
    assert (made.status_code, made.json()["minutes"]) == (201, 55)


def test_a_way_is_recorded_once(as_manager: APIClient) -> None:
    make.TransferTimeFactory()
    response = as_manager.post(PATH, {"from_storeroom": "MAIN", "to_storeroom": "NORTH", "minutes": 55})
    assert response.status_code == 409
    assert "recorded already" in response.json()["detail"]


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {"from_storeroom": None, "to_storeroom": "NOWHERE", "minutes": 10_081}
    assert set(errors(as_manager.post(PATH, wrong))) == {f"/{name}" for name in wrong}


def test_a_way_needs_two_storerooms(as_manager: APIClient) -> None:
    make.StoreroomFactory()
    response = as_manager.post(PATH, {"from_storeroom": "MAIN", "to_storeroom": "MAIN", "minutes": 5})
    assert "A transfer needs two different storerooms." in errors(response).values()


def test_it_is_filtered(as_viewer: APIClient) -> None:
    make.TransferTimeFactory()
    make.TransferTimeFactory(to_storeroom=make.StoreroomFactory(code="QUAY"), minutes=90)
    assert names(as_viewer.get(f"{PATH}?to_storeroom=QUAY"), "minutes") == [90]
    assert names(as_viewer.get(f"{PATH}?from_storeroom=MAIN&minutes__lte=60"), "to_storeroom") == ["NORTH"]
    assert names(as_viewer.get(f"{PATH}?ordering=-minutes"), "minutes") == [90, 40]

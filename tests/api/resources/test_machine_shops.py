import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/machine-shops/"


def test_it_is_kept_as_given(as_manager: APIClient) -> None:
    body = {
        "code": "YARD",
        "name": "Shop in the yard",
        "timezone": "UTC",
        "call_out_minutes": 0,
        "phone": "17",
    }
    made = as_manager.post(PATH, body)
    assert made.status_code == 201
    assert body.items() <= made.json().items()


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {"code": "", "name": 7, "timezone": "CET+1", "call_out_minutes": 1.5, "phone": "1" * 41}
    response = as_manager.post(PATH, wrong)
    assert (response.status_code, set(errors(response))) == (400, {f"/{name}" for name in wrong})


def test_one_in_use_cannot_be_deleted(as_manager: APIClient) -> None:
    make.StoreroomFactory()
    response = as_manager.delete(f"{PATH}SHOP/", HTTP_IF_MATCH=as_manager.get(f"{PATH}SHOP/")["ETag"])
    assert response.status_code == 409
    assert response.json()["blockers"] == [{"kind": "storeroom", "name": "MAIN"}]


def test_it_is_filtered(as_viewer: APIClient) -> None:
    make.MachineShopFactory()
    make.MachineShopFactory(code="YARD", name="Yard", call_out_minutes=None)
    assert names(as_viewer.get(f"{PATH}?q=kiln"), "code") == ["SHOP"]
    assert names(as_viewer.get(f"{PATH}?call_out_minutes__lte=90"), "code") == ["SHOP"]
    assert names(as_viewer.get(f"{PATH}?code=YARD,SHOP&ordering=-code"), "code") == ["YARD", "SHOP"]


def test_a_percent_sign_in_a_name_that_is_not_known_is_shown_as_typed(as_manager):
    answer = as_manager.post(
        "/api/v1/machine-shops/",
        {"code": "S-1", "name": "Shop", "timezone": "50 %NN"},
        headers={"Idempotency-Key": "k"},
    )
    (error,) = answer.json()["errors"]
    assert (answer.status_code, error["pointer"]) == (400, "/timezone")
    assert error["detail"] == "50 %NN is not a time zone: give a name such as Europe/Berlin."

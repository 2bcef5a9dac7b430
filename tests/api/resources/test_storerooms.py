from typing import Any

import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import change, errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/storerooms/"


def test_it_is_kept_as_given(as_manager: APIClient) -> None:
    make.MachineShopFactory()
    body = {
        "code": "KILN",
        "name": "Storeroom at the kiln",
        "site": "Weir Lane",
        "timezone": "Europe/Vienna",
        "machine_shop": "SHOP",
        "pick_minutes": 0,
        "call_out_minutes": None,
    }
    made = as_manager.post(PATH, body)
    assert made.status_code == 201
    assert body.items() <= made.json().items()
    assert made["Location"].endswith(f"{PATH}KILN/")


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {
        "code": "KILN 1",
        "name": "",
        "timezone": "Europe/Nowhere",
        "machine_shop": "NOWHERE",
        "pick_minutes": -1,
        "call_out_minutes": 10_081,
    }
    response = as_manager.post(PATH, wrong)
    assert (response.status_code, set(errors(response))) == (400, {f"/{name}" for name in wrong})


def test_a_code_is_given_once(as_manager: APIClient) -> None:
    make.StoreroomFactory()
    response = as_manager.post(PATH, {"code": "MAIN", "name": "Another"})
    assert (response.status_code, set(errors(response))) == (409, {"/code"})


def test_one_in_use_cannot_be_deleted(as_manager: APIClient) -> None:
    room = make.PlantFactory().storeroom
    make.BinFactory(storeroom=room, code="A-07")
    path = f"{PATH}MAIN/"
    response = as_manager.delete(path, HTTP_IF_MATCH=as_manager.get(path)["ETag"])
    assert response.status_code == 409
    assert [one["name"] for one in response.json()["blockers"]] == ["A-07", "WEIR"]


def test_its_code_may_change(as_manager: APIClient) -> None:
    room = make.StoreroomFactory()
    assert change(as_manager, f"{PATH}MAIN/", {"code": "FRONT"}).json()["code"] == "FRONT"
    assert as_manager.get(f"{PATH}{room.pk}/").json()["code"] == "FRONT"
    assert as_manager.get(f"{PATH}MAIN/").status_code == 404


@pytest.mark.parametrize(
    ("query", "codes"),
    [
        ("site=Quay", ["QUAY"]),
        ("machine_shop=SHOP", ["MAIN", "QUAY"]),
        ("pick_minutes__gte=20", ["QUAY"]),
        ("code=MAIN", ["MAIN"]),
        ("q=storeroom quay", ["QUAY"]),
        ("ordering=-code", ["QUAY", "MAIN"]),
    ],
)
def test_it_is_filtered(query: str, codes: list[str], as_viewer: APIClient) -> None:
    make.StoreroomFactory()
    make.StoreroomFactory(code="QUAY", site="Quay", pick_minutes=25)
    response: Any = as_viewer.get(f"{PATH}?{query}")
    assert names(response, "code") == codes

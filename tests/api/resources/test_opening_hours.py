from typing import Any

import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/opening-hours/"
MORNING = {"storeroom": "MAIN", "weekday": 0, "opens": "06:00", "closes": "14:00"}


@pytest.fixture(autouse=True)
def place(db: None) -> None:
    make.StoreroomFactory()


@pytest.mark.parametrize("body", [MORNING, MORNING | {"closes": "00:00"}, MORNING | {"opens": "06:00:30"}])
def test_it_is_kept_as_given(body: dict[str, Any], as_manager: APIClient) -> None:
    made = as_manager.post(PATH, body)
    assert made.status_code == 201
    assert (body | {"machine_shop": None}).items() <= made.json().items()


@pytest.mark.parametrize(
    "value", ["6:00", "24:00", "06:00Z", "06:00+01:00", "0600", 6, None, "06:00 ", "٠٦:٠٠"]
)
def test_an_hour_is_written_one_way(value: Any, as_manager: APIClient) -> None:
    assert set(errors(as_manager.post(PATH, MORNING | {"opens": value}))) == {"/opens"}


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {"storeroom": "NOWHERE", "machine_shop": 5, "weekday": 7, "opens": "x", "closes": "25:00"}
    assert set(errors(as_manager.post(PATH, wrong))) == {f"/{name}" for name in wrong}


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"machine_shop": "SHOP"}, "not to both"),
        ({"storeroom": None}, "not to both"),
        ({"closes": "06:00"}, "closes must be after opens"),
    ],
)
def test_what_does_not_go_together_is_refused(more: Any, sentence: str, as_manager: APIClient) -> None:
    response = as_manager.post(PATH, MORNING | more)
    assert response.status_code == 400
    assert sentence in response.json()["detail"]


def test_it_is_filtered(as_viewer: APIClient) -> None:
    make.OpeningHoursFactory(weekday=4)
    make.OpeningHoursFactory(weekday=0, storeroom=None, machine_shop=make.MachineShopFactory())
    assert names(as_viewer.get(f"{PATH}?storeroom=MAIN"), "weekday") == [4]
    assert names(as_viewer.get(f"{PATH}?machine_shop=SHOP"), "weekday") == [0]
    assert names(as_viewer.get(f"{PATH}?weekday__gte=1"), "storeroom") == ["MAIN"]
    assert names(as_viewer.get(f"{PATH}?ordering=-weekday"), "weekday") == [4, 0]

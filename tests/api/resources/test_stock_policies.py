from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import StockPolicy
from tests import factories as make
from tests.api.records import change, errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/stock-policies/"
SET: dict[str, Any] = {"item": "SPR-A", "storeroom": "MAIN", "reorder_point": 1, "order_up_to": 3}


@pytest.fixture(autouse=True)
def shelves(db: None) -> None:
    make.ItemFactory(stock_number="SPR-A"), make.StoreroomFactory()


def test_a_policy_says_who_set_it(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, SET | {"reason": "two kilns run on it", "review_on": "2024-09-01"})
    assert made.status_code == 201, made.content
    assert (SET | {"stocked": True, "set_by_name": "the manager"}).items() <= made.json().items()


def test_a_change_says_who_made_it(as_manager: APIClient) -> None:
    policy = make.StockPolicyFactory(set_by_name="Marta Keller")
    changed = change(as_manager, f"{PATH}{policy.pk}/", {"order_up_to": 2})
    assert (changed.json()["set_by_name"], changed.json()["order_up_to"]) == ("the manager", 2)


def test_nobody_signs_for_another(as_manager: APIClient) -> None:
    assert set(errors(as_manager.post(PATH, SET | {"set_by_name": "Ines Okafor"}))) == {"/set_by_name"}


def test_a_part_that_is_not_kept_is_a_policy_too(as_manager: APIClient) -> None:
    kept_none = {"stocked": False, "reorder_point": -1, "order_up_to": 0}
    assert as_manager.post(PATH, SET | kept_none).status_code == 201


@pytest.mark.parametrize(
    ("levels", "words"),
    [
        ({"reorder_point": 3, "order_up_to": 3}, "order_up_to must be above reorder_point"),
        ({"reorder_point": -1, "order_up_to": 1}, "Not stocked means"),
        ({"stocked": False}, "Not stocked means"),
    ],
)
def test_levels_that_contradict_each_other_are_refused(
    levels: dict[str, Any], words: str, as_manager: APIClient
) -> None:
    response = as_manager.post(PATH, SET | levels)
    assert response.status_code == 400
    assert words in " ".join(errors(response).values())
    assert not StockPolicy.objects.exists()


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {
        "item": "NOTHING",
        "storeroom": None,
        "stocked": "yes",
        "reorder_point": -2,
        "order_up_to": 1_000_001,
        "reason": "x" * 301,
        "review_on": "soon",
    }
    assert set(errors(as_manager.post(PATH, wrong))) == {f"/{name}" for name in wrong}


def test_an_item_has_one_policy_in_a_storeroom(as_manager: APIClient) -> None:
    assert as_manager.post(PATH, SET).status_code == 201
    again = as_manager.post(PATH, SET)
    assert again.status_code == 409
    assert "has a policy in that storeroom" in again.json()["detail"]


@pytest.mark.parametrize(
    ("query", "numbers"),
    [
        ("", ["SPR-A", "SPR-B"]),
        ("item=SPR-B", ["SPR-B"]),
        ("storeroom=MAIN", ["SPR-A", "SPR-B"]),
        ("stocked=false", ["SPR-B"]),
        ("reorder_point=-1", ["SPR-B"]),
        ("order_up_to__gte=1", ["SPR-A"]),
        ("review_on__lte=2024-12-31", ["SPR-A"]),
        ("set_by_name=Marta Keller", ["SPR-A"]),
        ("q=surplus", ["SPR-B"]),
        ("ordering=-item", ["SPR-B", "SPR-A"]),
        ("storeroom=NORTH", []),
    ],
)
def test_it_is_filtered(query: str, numbers: list[str], as_viewer: APIClient) -> None:
    make.StockPolicyFactory(
        item=make.ItemFactory(stock_number="SPR-A"), set_by_name="Marta Keller", review_on="2024-09-01"
    )
    make.StockPolicyFactory(
        item=make.ItemFactory(stock_number="SPR-B"),
        stocked=False,
        reorder_point=-1,
        order_up_to=0,
        reason="surplus",
    )
    assert names(as_viewer.get(f"{PATH}?{query}"), "item") == numbers

from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from tests import factories as make

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/identify/receiving/"
ORDERED = {"chain": "16B", "teeth": 21, "strands": 1}


def judged(client: APIClient, ordered: dict[str, Any] | None = None, **delivered: Any) -> Any:
    body = {"ordered": ordered or ORDERED, "delivered": {"teeth": 21, "strands": 1, **delivered}}
    return client.post(ADDRESS, body, format="json")


def test_it_names_the_fewest_measurements_with_their_limits(as_viewer: APIClient) -> None:
    answer = as_viewer.get(ADDRESS, ORDERED).json()

    assert answer["ordered"] == {"chain": "16B", "same_rim": [], "strands": 1, "single_cut": True}
    assert [one["measurement"] for one in answer["measure"]] == ["tooth_width_mm"]
    assert answer["measure"][0]["reason"]["explanation"] == "Tooth width 16.17 mm, not 14.96 mm as of 16A."
    assert "16A" in [one["chain"] for one in answer["look_alikes"]]


def test_an_item_says_what_was_ordered_bore_and_key_included(as_viewer: APIClient) -> None:
    item = make.ItemFactory(specification=make.SprocketFactory(chain_designation="16B", teeth=21))
    answer = as_viewer.get(ADDRESS, {"item": item.stock_number}).json()

    assert answer["ordered"]["chain"] == "16B"
    assert [one["measurement"] for one in answer["measure"]] == [
        "tooth_width_mm",
        "bore_mm",
        "keyway_width_mm",
    ]


def test_the_wrong_rim_is_named(as_storeroom: APIClient) -> None:
    verdict = judged(as_storeroom, tooth_width_mm=14.6).json()["verdict"]

    assert verdict["outcome"] == "something_else"
    assert verdict["could_be"][0]["chain"] == "16A"
    assert verdict["reasons"][0]["explanation"] == (
        "Tooth width 14.6 mm: a new 16B has 15.64 mm to 16.27 mm, reading error included."
    )


def test_the_right_rim_passes(as_storeroom: APIClient) -> None:
    assert judged(as_storeroom, tooth_width_mm=16.0).json()["verdict"]["outcome"] == "passes"


def test_without_the_deciding_measurement_it_is_doubtful(as_storeroom: APIClient) -> None:
    verdict = judged(as_storeroom).json()["verdict"]

    assert (verdict["outcome"], verdict["missing"]) == ("doubtful", ["tooth_width_mm"])


def test_another_bore_than_ordered_is_something_else(as_storeroom: APIClient) -> None:
    item = make.ItemFactory(
        specification=make.SprocketFactory(chain_designation="16B", teeth=21, bore_mm=Decimal("28"))
    )
    delivered = {"tooth_width_mm": 16.0, "bore_mm": 25.0, "keyway_width_mm": 8.0}
    verdict = judged(as_storeroom, {"item": item.stock_number}, **delivered).json()["verdict"]

    assert verdict["outcome"] == "something_else"
    assert [one["explanation"] for one in verdict["reasons"]] == ["Bore 25 mm, 28 mm ordered."]


@pytest.mark.parametrize(("width_mm", "condition", "available"), [(16.0, "new", 2), (14.6, "on_hold", 0)])
def test_it_is_taken_in_as_the_answer_says(
    as_storeroom: APIClient, width_mm: float, condition: str, available: int
) -> None:
    part = make.PilotBoredFactory(chain_designation="16B", teeth=21)
    item, room = make.ItemFactory(specification=part), make.StoreroomFactory()
    receipt = judged(as_storeroom, {"item": item.stock_number}, tooth_width_mm=width_mm).json()["receipt"]
    booked = as_storeroom.post(
        receipt["href"],
        {**receipt["body"], "storeroom": room.code, "quantity": 2},
        format="json",
        headers={"Idempotency-Key": "delivery-1"},
    )

    assert booked.status_code == 201, booked.content
    level = item.levels.get()
    assert (level.condition, level.on_hand, level.available) == (condition, 2, available)
    assert booked.json()["reason"] == (
        ""
        if available
        else "Tooth width 14.6 mm: a new 16B has 15.64 mm to 16.27 mm, reading error included."
    )


def test_without_an_item_nothing_is_taken_in(as_storeroom: APIClient) -> None:
    assert judged(as_storeroom, tooth_width_mm=16.0).json()["receipt"] is None


@pytest.mark.parametrize(
    ("ordered", "delivered", "pointer"),
    [
        ({"chain": "16X", "teeth": 21}, {}, "/ordered/chain"),
        ({"chain": "16B"}, {}, "/ordered/teeth"),
        ({"item": "NONE-1"}, {}, "/ordered/item"),
        ({"item": "NONE-1", "teeth": 21}, {}, "/ordered/item"),
        ({"chain": "C2042", "teeth": 21, "strands": 2}, {}, "/ordered/strands"),
        ({"chain": "16B", "teeth": 21, "single_cut": False}, {}, "/ordered/single_cut"),
        (ORDERED, {"teeth": 0}, "/delivered/teeth"),
        (ORDERED, {"tooth_width_mm": 0.63}, "/delivered/tooth_width_mm"),
        (
            ORDERED,
            {"outside_diameter_mm": 100, "caliper_diameter_mm": 150},
            "/delivered/outside_diameter_mm",
        ),
    ],
)
def test_it_names_every_bad_field(
    as_viewer: APIClient, ordered: dict[str, Any], delivered: dict[str, Any], pointer: str
) -> None:
    answer = judged(as_viewer, ordered, **delivered)

    assert answer.status_code == 400
    assert pointer in [row["pointer"] for row in answer.json()["errors"]]


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ({}, "chain"),
        ({"chain": "16X", "teeth": 21}, "chain"),
        ({"chain": "16B", "teeth": 2}, "teeth"),
        ({"item": "NONE-1"}, "item"),
        ({"chains": "16B"}, "chains"),
    ],
)
def test_it_names_every_bad_parameter(as_viewer: APIClient, query: dict[str, Any], name: str) -> None:
    answer = as_viewer.get(ADDRESS, query)

    assert answer.status_code == 400
    assert name in str(answer.json()["errors"])


def test_it_refuses_strangers(as_stranger: APIClient) -> None:
    assert as_stranger.get(ADDRESS, ORDERED).status_code == 401
    assert judged(as_stranger).status_code == 401

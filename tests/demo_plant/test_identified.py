"""The stories of the counter: an unknown part is measured, and a delivery is another thing than was ordered."""

import pytest
from rest_framework.test import APIClient

from tests.conftest import ClientFor

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]


@pytest.fixture
def counter(client_for: ClientFor) -> APIClient:
    return client_for("storeroom")


def test_the_worn_wheel_on_the_counter_is_rather_08b_and_its_replacement_is_found(counter: APIClient) -> None:
    readings = {
        "teeth": 27,
        "outside_diameter_mm": 113.9,
        "caliper_diameter_mm": 100.4,
        "tooth_width_mm": 7.0,
        "hub_diameter_mm": 49.5,
        "bore_mm": 25,
        "keyway_width_mm": 8,
        "worn": True,
    }
    answer = counter.post("/api/v1/identify/", readings, format="json").json()
    shares = {(one["chain"], one["strands"]): one["probability"] for one in answer["candidates"]}
    shelves = {one["stock_number"]: one["stock"] for one in answer["items"]}

    assert answer["candidates"][0]["chain"] == "08B"
    assert shares["08B", 1] > shares["08A", 1] > 0.01
    assert "LW-MAIN" in [shelf["storeroom"] for shelf in shelves["42-0215"]]


def test_the_delivery_on_hold_is_an_80_and_no_16b_and_its_order_stays_open(counter: APIClient) -> None:
    (check,) = counter.get("/api/v1/delivery-checks/?held__gte=1").json()["results"]
    order = counter.get(f"/api/v1/supply-orders/{check['source']}/{check['external_id']}/").json()
    shelves = counter.get(f"/api/v1/stock/?item={check['item']}&storeroom=LW-MAIN").json()["results"]

    assert (check["outcome"], check["held"], check["could_be"][0]) == ("something_else", 2, "16A")
    assert (order["status"], order["outstanding"]) == ("open", 2)
    assert [(one["condition"], one["on_hand"], one["available"]) for one in shelves] == [("on_hold", 2, 0)]

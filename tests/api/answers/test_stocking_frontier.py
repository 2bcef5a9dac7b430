from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Item
from tests import factories as make
from tests.api.records import errors
from tests.conftest import ClientFor
from tests.jobs import get_calculated
from tests.stored_demand import calculate_demands

pytestmark = pytest.mark.django_db
PATH = "/api/v1/stocking/frontier/"


@pytest.fixture
def fitted(db: None) -> Item:
    """One sprocket fitted to a drive whose standstill costs 420 an hour; one more on the shelf."""
    installed = make.InstallationFactory(item=make.ItemFactory(stock_number="SPR-1"))
    make.stock(installed.item, make.StoreroomFactory(), 1)
    found: Item = installed.item
    return found


def asked(client: APIClient, budget: str = "500") -> dict[str, Any]:
    calculate_demands()
    response = get_calculated(client, f"{PATH}?budget={budget}")
    assert response.status_code == 200, response.content
    found: dict[str, Any] = response.json()
    return found


def test_it_lists_buys_within_the_budget(as_viewer: APIClient, fitted: Item) -> None:
    found = asked(as_viewer, "100")
    assert (found["budget"], found["currency"], found["is_cut"]) == ("100.00", "EUR", False)
    first = found["buys"][0]
    assert (first["item"], first["storeroom"], first["pieces"]) == ("SPR-1", "MAIN", 1)
    assert (first["stock_after"], first["spend"], first["unit_cost"]) == (2, "38.50", "38.50")
    assert first["downtime_hours_per_year"] < found["today"]["downtime_hours_per_year"]
    assert all(Decimal(buy["spend"]) <= 100 for buy in found["buys"])


def test_it_compares_todays_stock_and_names_the_method(as_viewer: APIClient, fitted: Item) -> None:
    found = asked(as_viewer)
    assert found["today"]["spend"] == "38.50"
    assert found["curve"][0]["spend"] == "0.00"
    assert found["best_for_the_same_money"]["spend"] == "38.50"
    assert "storerooms_weighed_by_reach" in [fact["code"] for fact in found["method"]]
    assert any(
        "share the stock of a part are weighed as one" in fact["explanation"] for fact in found["method"]
    )


def test_what_cannot_be_weighed_is_listed_apart(as_viewer: APIClient, fitted: Item) -> None:
    Item.objects.update(unit_cost=None)
    found = asked(as_viewer)
    assert found["buys"] == []
    assert found["left_out"] == [
        {
            "item": "SPR-1",
            "storeroom": "MAIN",
            "explanation": "Its price is not known: enter unit_cost.",
            "code": "price_not_known",
            "values": {},
        }
    ]


def test_without_a_stocking_run_it_says_so(as_viewer: APIClient, fitted: Item) -> None:
    found = get_calculated(as_viewer, f"{PATH}?budget=100").json()
    assert (found["buys"], found["method"][0]["code"]) == ([], "demand_not_calculated")


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("", "budget"),
        ("budget=-1", "budget"),
        ("budget=1e5", "budget"),
        ("budget=2000000000", "budget"),
        ("budget=1&room=MAIN", "room"),
    ],
)
def test_a_budget_out_of_bounds_is_refused(as_viewer: APIClient, query: str, name: str) -> None:
    response = as_viewer.get(f"{PATH}?{query}")
    assert response.status_code == 400
    assert f"/{name}" in errors(response)


@pytest.mark.parametrize("role", ["viewer", "storeroom", "manager", "integration"])
def test_every_role_reads_it(client_for: ClientFor, role: str) -> None:
    assert asked(client_for(role), "0")["buys"] == []


def test_a_stranger_sees_nothing(as_stranger: APIClient) -> None:
    assert as_stranger.get(f"{PATH}?budget=1").status_code == 401

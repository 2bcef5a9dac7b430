from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from inventory.models import StockEntry
from inventory.stores import ledger
from tests import factories as make
from tests import movements
from tests.api.records import errors

pytestmark = pytest.mark.django_db
PATH = "/api/v1/stock/"
MARTA = "Marta Keller"


@pytest.fixture
def days(monkeypatch: Any) -> None:
    """Three movements, recorded a day apart; the last of them happened before the others."""
    item, main = make.ItemFactory(stock_number="SPR-1"), make.StoreroomFactory()
    clock = make.MORNING
    monkeypatch.setattr(timezone, "now", lambda: clock)
    make.stock(item, main, 5)
    clock += timedelta(days=1)
    movements.transfer(item, main, make.StoreroomFactory(code="NORTH"), 2, by=MARTA)
    clock += timedelta(days=1)
    movements.issue(item, main, 1, by=MARTA, occurred_at=make.MORNING - timedelta(days=30))
    monkeypatch.undo()


def held(client: APIClient, path: str) -> dict[str, int]:
    response = client.get(path)
    assert response.status_code == 200, response.content
    return {row["storeroom"]: row["on_hand"] for row in response.json()["results"]}


@pytest.mark.parametrize(
    ("moment", "rows"),
    [
        ("2024-03-04T06:29:59Z", {}),
        ("2024-03-04T07:30:00%2B01:00", {"MAIN": 5}),
        ("2024-03-05T06:30:00Z", {"MAIN": 3, "NORTH": 2}),
        ("2024-03-06T06:30:00Z", {"MAIN": 2, "NORTH": 2}),
        ("2100-01-01T00:00:00Z", {"MAIN": 2, "NORTH": 2}),
    ],
)
@pytest.mark.parametrize("address", [PATH, "/api/v1/items/SPR-1/stock/"])
def test_it_says_what_the_book_said_then(
    address: str, moment: str, rows: dict[str, int], days: None, as_viewer: APIClient
) -> None:
    assert held(as_viewer, f"{address}?as_of={moment}") == rows


def test_it_equals_the_replay_after_every_entry(days: None, as_viewer: APIClient) -> None:
    for entry in StockEntry.objects.with_places():
        (row,) = as_viewer.get(
            f"{PATH}?as_of={entry.recorded_at.isoformat().replace('+', '%2B')}&storeroom={entry.storeroom.code}"
        ).json()["results"]
        last = ledger.balance_at(entry.item, entry.storeroom, entry.condition, row["movement"])
        assert row["on_hand"] == last


def test_it_costs_a_fixed_number_of_queries(
    days: None, as_viewer: APIClient, django_assert_max_num_queries: Any
) -> None:
    with django_assert_max_num_queries(5):
        as_viewer.get(f"{PATH}?as_of=2100-01-01T00:00:00Z")


@pytest.mark.parametrize("other", ["on_hand__gte=1", "in_stock=true", "available=1", "bin=A-01"])
def test_it_does_not_mix_then_and_now(other: str, days: None, as_viewer: APIClient) -> None:
    response = as_viewer.get(f"{PATH}?as_of=2100-01-01T00:00:00Z&{other}")
    assert errors(response).keys() == {"/" + other.split("=", maxsplit=1)[0]}
    assert as_viewer.get(f"{PATH}?as_of=yesterday").status_code == 400


def test_today_of_one_item(days: None, as_viewer: APIClient) -> None:
    assert held(as_viewer, "/api/v1/items/SPR-1/stock/") == {"MAIN": 2, "NORTH": 2}
    assert as_viewer.get("/api/v1/items/NOWHERE/stock/").status_code == 404

from datetime import timedelta
from decimal import Decimal
from typing import Any
from urllib.parse import quote

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from api.answers import answer_lists, frontier_lists
from api.models import AnswerLines, BackgroundJob
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
    assert (found["budget"], found["currency"], found["further_buys"]) == ("100.00", "EUR", 0)
    buys = found["buys"]["results"]
    first = buys[0]
    assert (first["item"], first["storeroom"], first["pieces"]) == ("SPR-1", "MAIN", 1)
    assert (first["stock_after"], first["spend"], first["unit_cost"]) == (2, "38.50", "38.50")
    assert first["downtime_hours_per_year"] < found["today"]["downtime_hours_per_year"]
    assert all(Decimal(buy["spend"]) <= 100 for buy in buys)
    assert (found["buys"]["count"], found["buys"]["next"]) == (len(buys), None)
    assert found["after_buys"] == {name: buys[-1][name] for name in found["after_buys"]}


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
    assert found["buys"] == {"count": 0, "next": None, "results": []}
    assert found["left_out"] == {
        "count": 1,
        "next": None,
        "by_reason": [{"code": "price_not_known", "parts": 1}],
        "results": [
            {
                "item": "SPR-1",
                "storeroom": "MAIN",
                "explanation": "Its price is not known: enter the price.",
                "code": "price_not_known",
                "values": {},
            }
        ],
    }


def test_without_a_stocking_run_it_says_so(as_viewer: APIClient, fitted: Item) -> None:
    found = get_calculated(as_viewer, f"{PATH}?budget=100").json()
    assert (found["buys"]["results"], found["method"][0]["code"]) == ([], "demand_not_calculated")


@pytest.fixture
def two_reasons(fitted: Item, monkeypatch: pytest.MonkeyPatch) -> None:
    """Five parts without a price, three that nobody requests; two lines of a list are stored together."""
    for number in range(5):
        make.InstallationFactory(item=make.ItemFactory(stock_number=f"BARE-{number}", unit_cost=None))
    for number in range(3):
        make.stock(make.ItemFactory(stock_number=f"STILL-{number}"), make.StoreroomFactory(), 1)
    monkeypatch.setattr(answer_lists, "LINES_TOGETHER", 2)
    monkeypatch.setattr(frontier_lists, "FIRST_LINES", 2)
    calculate_demands()


def walked(client: APIClient, address: str | None) -> tuple[list[str], list[int]]:
    """The items of all pages in their order, and what each page says of their number."""
    items, counts = [], []
    while address:
        page = client.get(address).json()
        items += [row["item"] for row in page["results"]]
        counts.append(page["count"])
        address = page["next"]
    return items, counts


def test_a_long_list_goes_on_where_the_answer_ends(as_viewer: APIClient, two_reasons: None) -> None:
    found = asked(as_viewer)["left_out"]
    assert found["by_reason"] == [
        {"code": "price_not_known", "parts": 5},
        {"code": "no_unplanned_demand", "parts": 3},
    ]
    assert (found["count"], len(found["results"])) == (8, 2)
    items, counts = walked(as_viewer, f"{found['next']}&limit=3")
    every = [f"BARE-{number}" for number in range(5)] + [f"STILL-{number}" for number in range(3)]
    assert [row["item"] for row in found["results"]] + items == every
    assert counts == [8, 8]


def test_what_is_left_out_for_one_reason_is_a_list_of_its_own(
    as_viewer: APIClient, two_reasons: None
) -> None:
    asked(as_viewer)
    address = f"{PATH}left-out/?budget=500&limit=2&code="
    assert walked(as_viewer, f"{address}no_unplanned_demand") == (["STILL-0", "STILL-1", "STILL-2"], [3, 3])
    assert walked(as_viewer, f"{address}price_not_known")[0] == [f"BARE-{number}" for number in range(5)]
    assert walked(as_viewer, f"{address}no_such_reason") == ([], [0])


def test_a_page_of_a_list_reads_only_the_lines_that_it_shows(as_viewer: APIClient, two_reasons: None) -> None:
    asked(as_viewer)
    with CaptureQueriesContext(connection) as queries:
        as_viewer.get(f"{PATH}left-out/?budget=500&limit=2&after=6")
    (read,) = [one["sql"] for one in queries if "FROM" in one["sql"] and "api_answerlines" in one["sql"]]
    assert '"last" > 6' in read
    assert '"last" < 10' in read


def test_all_drives_and_all_buys_are_listed(as_viewer: APIClient, fitted: Item) -> None:
    found = asked(as_viewer)
    drives = as_viewer.get(f"{PATH}drives/?budget=500").json()
    assert drives == {"as_of": found["as_of"], **found["by_drive"]}
    assert sum(Decimal(row["downtime_cost_per_year"]) for row in drives["results"]) == Decimal(
        found["today"]["downtime_cost_per_year"]
    )
    buys = as_viewer.get(f"{PATH}buys/?budget=500&limit=1").json()
    assert (buys["count"], buys["results"]) == (found["buys"]["count"], found["buys"]["results"][:1])


def test_lines_of_an_older_answer_are_forgotten(as_viewer: APIClient, two_reasons: None) -> None:
    asked(as_viewer)
    first = AnswerLines.objects.count()
    BackgroundJob.objects.update(started_at=timezone.now() - timedelta(minutes=20))
    for _ in range(2):
        after = f"&calculated_after={quote(timezone.now().isoformat())}"
        assert get_calculated(as_viewer, f"{PATH}?budget=500{after}").status_code == 200
    assert AnswerLines.objects.count() == 2 * first
    BackgroundJob.objects.update(finished_at=timezone.now() - timedelta(hours=25))
    asked(as_viewer, "20")
    assert {lines.job.parameters["budget"] for lines in AnswerLines.objects.all()} == {"20"}


@pytest.mark.parametrize("name", ["buys", "drives", "left-out"])
def test_a_list_is_calculated_where_it_is_not_there_yet(
    as_viewer: APIClient, fitted: Item, name: str
) -> None:
    assert as_viewer.get(f"{PATH}{name}/?budget=500").status_code == 202
    assert "/budget" in errors(as_viewer.get(f"{PATH}{name}/"))
    assert "/after" in errors(as_viewer.get(f"{PATH}{name}/?budget=1&after=x"))


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
    assert asked(client_for(role), "0")["buys"]["results"] == []


def test_a_stranger_sees_nothing(as_stranger: APIClient) -> None:
    assert as_stranger.get(f"{PATH}?budget=1").status_code == 401

import csv
import io
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from inventory.models import Item, StockPolicy
from tests import factories as make
from tests import movements
from tests.api.records import errors, names
from tests.conftest import ClientFor
from tests.jobs import run_queued_jobs

pytestmark = pytest.mark.django_db
PATH = "/api/v1/reorder-list/"


def kept(number: str, **more: Any) -> Item:
    item = make.ItemFactory(stock_number=number, **more)
    StockPolicy.objects.create(item=item, storeroom=make.StoreroomFactory(), reorder_point=1, order_up_to=4)
    return item


def rows_of(response: Any) -> list[dict[str, str]]:
    assert response.status_code == 200
    return list(csv.DictReader(io.StringIO(response.getvalue().decode())))


def test_it_tells_what_to_order_and_what_that_costs(as_viewer: APIClient) -> None:
    make.stock(kept("SPR-1"), make.StoreroomFactory(), 1)
    (row,) = as_viewer.get(PATH).json()["results"]
    assert (row["item"], row["storeroom"], row["action"], row["quantity"]) == ("SPR-1", "MAIN", "order", 3)
    assert (row["on_hand"], row["on_order"], row["next_due_on"]) == (1, 0, None)
    assert (row["unit_cost"], row["expected_cost"], row["currency"]) == ("38.50", "115.50", "EUR")


def test_without_a_price_the_cost_is_null(as_viewer: APIClient) -> None:
    kept("SPR-1", unit_cost=None)
    assert as_viewer.get(PATH).json()["results"][0]["expected_cost"] is None


def test_notes_have_codes_and_values_and_sentences(as_viewer: APIClient) -> None:
    item, room = kept("SPR-1"), make.StoreroomFactory()
    make.stock(item, room, 4)
    movements.issue(
        item,
        room,
        3,
        work_order="WO-1",
        expected_back_on=date(2020, 1, 1),
        by="Marta",
        occurred_at=make.MORNING,
    )
    row = as_viewer.get(PATH).json()["results"][0]
    text = "Lent out and overdue: 3. Ask for them before you order."
    assert row["notes"] == [
        {
            "code": "return_overdue",
            "values": {"pieces": 3},
            "explanation": text,
        }
    ]
    assert rows_of(as_viewer.get(PATH, HTTP_ACCEPT="text/csv"))[0]["notes"] == text


def test_it_comes_page_by_page(as_viewer: APIClient) -> None:
    for number in ("SPR-1", "SPR-2", "SPR-3"):
        kept(number)
    first = as_viewer.get(f"{PATH}?limit=2")
    assert names(first, "item") == ["SPR-1", "SPR-2"]
    assert names(as_viewer.get(first.json()["next"]), "item") == ["SPR-3"]


def test_the_totals_are_those_of_the_whole_list(as_viewer: APIClient) -> None:
    for number in ("SPR-1", "SPR-2", "SPR-3"):
        kept(number)
    Item.objects.filter(stock_number="SPR-3").update(unit_cost=None)
    whole = as_viewer.get(PATH).json()
    assert as_viewer.get(f"{PATH}?limit=2").json()["totals"] is None
    assert run_queued_jobs() == 1
    page = as_viewer.get(f"{PATH}?limit=2").json()
    assert page["totals"] == whole["totals"]
    [total] = page["totals"]
    assert (total["storeroom"], total["to_order"], total["without_price"]) == ("MAIN", 3, 1)
    costs = [Decimal(line["expected_cost"]) for line in whole["results"] if line["expected_cost"]]
    assert [Decimal(cost["amount"]) for cost in total["costs"]] == [sum(costs)]
    assert len(costs) == 2
    assert as_viewer.get(page["next"]).json()["totals_as_of"] == page["totals_as_of"]


def test_one_storeroom_can_be_asked_for(as_viewer: APIClient) -> None:
    kept("SPR-1")
    make.StoreroomFactory(code="NORTH")
    assert names(as_viewer.get(f"{PATH}?storeroom=MAIN"), "item") == ["SPR-1"]
    assert names(as_viewer.get(f"{PATH}?storeroom=NORTH"), "item") == []
    assert "There is no storeroom" in errors(as_viewer.get(f"{PATH}?storeroom=NOWHERE"))["/storeroom"]


@pytest.mark.parametrize("asked", [{"HTTP_ACCEPT": "text/csv"}, {"QUERY_STRING": "format=csv"}])
def test_it_comes_as_one_file(as_viewer: APIClient, asked: dict[str, str]) -> None:
    for n in range(60):
        kept(f"SPR-{n:02d}")
    response = as_viewer.get(PATH, **asked)
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert response["Content-Disposition"] == 'attachment; filename="reorder-list.csv"'
    rows = rows_of(response)
    assert len(rows) == 60
    assert (rows[0]["item"], rows[0]["quantity"], rows[0]["expected_cost"]) == ("SPR-00", "4", "154.00")


def test_no_cell_is_a_formula(as_viewer: APIClient) -> None:
    kept("=1+1", description="+cmd", maker="@sum", maker_part_number="-2")
    (row,) = rows_of(as_viewer.get(PATH, HTTP_ACCEPT="text/csv"))
    assert (row["item"], row["description"]) == ("'=1+1", "'+cmd")
    assert (row["maker"], row["maker_part_number"]) == ("'@sum", "'-2")


@pytest.mark.parametrize("query", ["room=MAIN", "limit=0", "cursor=x", "storeroom="])
def test_what_is_not_understood_is_refused(as_viewer: APIClient, query: str) -> None:
    response = as_viewer.get(f"{PATH}?{query}")
    assert (response.status_code, set(errors(response))) == (400, {f"/{query.partition('=')[0]}"})


def test_a_refusal_is_readable_for_who_asked_for_a_file(as_viewer: APIClient) -> None:
    response = as_viewer.get(f"{PATH}?room=MAIN", HTTP_ACCEPT="text/csv")
    assert (response.status_code, response["Content-Type"]) == (400, "application/problem+json")
    assert as_viewer.get(PATH, HTTP_ACCEPT="image/png").status_code == 406


@pytest.mark.parametrize("role", ["viewer", "storeroom", "manager", "integration"])
def test_every_role_reads_it_and_nobody_writes(client_for: ClientFor, role: str) -> None:
    assert client_for(role).get(PATH).status_code == 200
    assert client_for(role).post(PATH).status_code == 405


def test_a_stranger_sees_nothing(as_stranger: APIClient) -> None:
    assert as_stranger.get(PATH).status_code == 401


def test_it_costs_the_same_queries_however_long(as_viewer: APIClient) -> None:
    counts = []
    for size in (1, 9):
        for n in range(size):
            make.stock(kept(f"SPR-{size}-{n}"), make.StoreroomFactory(), 1)
        with CaptureQueriesContext(connection) as queries:
            as_viewer.get(PATH)
        counts.append(len(queries))
    assert counts[0] == counts[1]

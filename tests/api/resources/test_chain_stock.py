from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from inventory.models import Item
from inventory.planning.chain_jobs import ChainJobs
from inventory.stores import ledger
from tests import factories as make
from tests.api.records import errors
from tests.conftest import ClientFor
from tests.inventory.planning.worlds import need_of, run_over

pytestmark = pytest.mark.django_db
PATH = "/api/v1/chain-stock/"
JOBS = ChainJobs(links_per_job=112, shortest_links=82, longest_links=112, mean_links=97.0, jobs=8)


def chain(number: str, *pieces: int, room: str = "MAIN") -> Item:
    item = make.ChainItemFactory(stock_number=number)
    make.stock(item, make.StoreroomFactory(code=room), sum(pieces), pieces=list(pieces))
    return item


def planned(*items: Item) -> None:
    run_over([need_of(item, chain=JOBS) for item in items])


def rows(client: APIClient, query: str = "") -> list[dict[str, Any]]:
    response = client.get(PATH + query)
    assert response.status_code == 200, response.content
    found: list[dict[str, Any]] = response.json()["results"]
    return found


def test_chain_is_shown_as_the_jobs_that_its_pieces_serve(as_viewer: APIClient) -> None:
    item = chain("CHN-1", 240, 100, 78, 30)
    planned(item)
    ledger.reserve(item, make.StoreroomFactory(), 12, work_order="WO-1", by="Marta Keller")
    assert rows(as_viewer) == [
        {
            "item": "CHN-1",
            "storeroom": "MAIN",
            "on_hand": 448,
            "piece_links": [240, 100, 78, 30],
            "reserved": 12,
            "links_per_job": 112,
            "shortest_job_links": 82,
            "serves_jobs": 2,
            "serves_no_job": 212,
            "remnant_links": [78, 18],
            "remnant_value": "33.60",
            "currency": "EUR",
        }
    ]


def test_where_no_job_is_on_record_nothing_is_claimed(as_viewer: APIClient) -> None:
    chain("CHN-1", 90)
    (row,) = rows(as_viewer)
    assert [row[name] for name in ("links_per_job", "serves_jobs", "serves_no_job", "remnant_links")] == [
        None,
        None,
        None,
        [],
    ]


def test_only_what_the_caller_may_see_and_asks_for_is_shown(
    as_viewer: APIClient, as_stranger: APIClient, client_for: ClientFor
) -> None:
    chain("CHN-1", 90)
    chain("CHN-2", 60, room="NORTH")
    assert [row["item"] for row in rows(as_viewer)] == ["CHN-1", "CHN-2"]
    assert [row["item"] for row in rows(as_viewer, "?storeroom=NORTH")] == ["CHN-2"]
    assert set(errors(as_viewer.get(f"{PATH}?storeroom=NOWHERE"))) == {"/storeroom"}
    assert set(errors(as_viewer.get(f"{PATH}?room=MAIN"))) == {"/room"}
    assert as_stranger.get(PATH).status_code == 401


def test_it_costs_the_same_queries_however_long(as_viewer: APIClient) -> None:
    counts = []
    for number in range(3):
        chain(f"CHN-{number}", 120, 60)
        with CaptureQueriesContext(connection) as queries:
            assert len(rows(as_viewer)) == number + 1
        counts.append(len(queries))
    assert len(set(counts)) == 1


@pytest.mark.parametrize("pieces", [[0, 90], [-5, 95], [0.5, 89.5], [90, "1"]])
def test_a_piece_shorter_than_a_link_is_refused(as_storeroom: APIClient, pieces: list[Any]) -> None:
    item = make.ChainItemFactory(stock_number="CHN-1")
    body = {"kind": "receipt", "item": "CHN-1", "storeroom": make.StoreroomFactory().code, "quantity": 90}
    response = as_storeroom.post(
        "/api/v1/movements/", body | {"pieces": pieces}, HTTP_IDEMPOTENCY_KEY="chain-short"
    )
    assert response.status_code == 400
    assert any("pieces" in pointer for pointer in errors(response))
    assert not item.levels.exists()

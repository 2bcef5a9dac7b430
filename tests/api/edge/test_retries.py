from types import SimpleNamespace
from typing import Any

import pytest
from django.db import OperationalError
from rest_framework.test import APIClient

from api.edge import retries
from api.edge.errors import Unavailable
from api.models import IdempotencyRecord
from inventory.models import StockEntry
from inventory.stores.ledger.refusals import ShelfMoved
from tests import factories as make
from tests.api.records import post


class Handler:
    """Gives way so many times, then answers."""

    __name__ = "handler"

    def __init__(self, *failures: Exception) -> None:
        self.failures = list(failures)
        self.tries = 0

    def __call__(self) -> Any:
        self.tries += 1
        if self.failures:
            raise self.failures.pop(0)
        return "answer"


@pytest.fixture(autouse=True)
def in_no_hurry(monkeypatch: Any) -> None:
    monkeypatch.setattr(retries.time, "sleep", lambda seconds: None)
    monkeypatch.setattr(retries, "connection", SimpleNamespace(in_atomic_block=False))


def on_postgresql(sqlstate: str) -> OperationalError:
    error = OperationalError("could not")
    error.__cause__ = type("Cause", (Exception,), {"sqlstate": sqlstate})()
    return error


@pytest.mark.parametrize(
    "failure",
    [
        on_postgresql("40001"),
        on_postgresql("40P01"),
        on_postgresql("55P03"),
        OperationalError("database is locked"),
        OperationalError("database table is locked: inventory_stocklevel"),
        ShelfMoved("Level 4 changed under its lock"),
    ],
    ids=str,
)
def test_what_gave_way_is_tried_again(failure: Exception) -> None:
    handler = Handler(failure, failure)
    assert (retries.with_retries(handler)(), handler.tries) == ("answer", 3)


@pytest.mark.parametrize(
    "failure", [on_postgresql("57P01"), OperationalError("no such table: x"), ValueError("no")], ids=str
)
def test_what_would_fail_again_is_not(failure: Exception) -> None:
    handler = Handler(failure)
    with pytest.raises(type(failure)):
        retries.with_retries(handler)()
    assert handler.tries == 1


def test_patience_ends_with_503_and_a_time_to_come_back() -> None:
    handler = Handler(*[OperationalError("database is locked")] * 100)
    with pytest.raises(Unavailable) as refusal:
        retries.with_retries(handler)()
    assert handler.tries == retries.MOST_TRIES
    assert (refusal.value.status_code, refusal.value.wait) == (503, 5)


def test_a_transaction_of_somebody_else_is_not_begun_anew(monkeypatch: Any) -> None:
    monkeypatch.setattr(retries, "connection", SimpleNamespace(in_atomic_block=True))
    handler = Handler(OperationalError("database is locked"))
    with pytest.raises(OperationalError):
        retries.with_retries(handler)()
    assert handler.tries == 1


def test_two_who_met_do_not_wait_equally_long() -> None:
    pauses = {retries.pause_seconds(tried) for tried in range(1, 13) for _ in range(5)}
    assert len(pauses) == 60
    assert max(pauses) <= retries.LONGEST_PAUSE_SECONDS


@pytest.mark.django_db(transaction=True)
def test_a_request_that_gave_way_is_answered_as_if_nothing_had_been(
    as_storeroom: APIClient, monkeypatch: Any
) -> None:
    item, failures = make.ItemFactory(), [OperationalError("database is locked")]
    make.stock(item, make.StoreroomFactory(), 5)
    create = IdempotencyRecord.objects.create

    def sometimes(**values: Any) -> Any:
        if failures:
            raise failures.pop()
        return create(**values)

    monkeypatch.setattr(IdempotencyRecord.objects, "create", sometimes)
    body = {"kind": "issue", "item": item.stock_number, "storeroom": "MAIN", "quantity": 1}
    response = post(as_storeroom, "/api/v1/movements/", body)
    assert (response.status_code, response.json()["balance_after"]) == (201, 4)
    assert StockEntry.objects.count() == 2

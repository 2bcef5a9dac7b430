"""Callers who meet at one shelf: whoever comes first, the books agree and nobody hears of a lock."""

import threading
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from rest_framework.test import APIClient

from inventory.models import Item, Reservation, StockEntry, StockLevel, Storeroom
from inventory.stores.ledger.verify import verify
from tests import factories as make
from tests import movements
from tests.api.records import post

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]
PATH = "/api/v1/movements/"
MARTA = "Marta Keller"
CALLERS = 16
Act = tuple[str, dict[str, Any], str]


@pytest.fixture
def main(db: None) -> Storeroom:
    return make.StoreroomFactory()


@pytest.fixture
def item(main: Storeroom) -> Item:
    return make.ItemFactory(stock_number="SPR-1")


def movement(kind: str, **more: Any) -> dict[str, Any]:
    return {"kind": kind, "item": "SPR-1", "storeroom": "MAIN"} | more


def storm(client: APIClient, acts: list[Act]) -> Counter[int]:
    """Sends (path, body, key) from 16 callers that all begin at once; counts the answers by status."""
    start, answers = threading.Barrier(CALLERS), Counter[int]()
    lock = threading.Lock()

    def caller(mine: list[Act]) -> None:
        own = APIClient(raise_request_exception=False)
        own.credentials(**client._credentials)
        start.wait()
        try:
            for path, body, key in mine:
                status = post(own, path, body, key=key).status_code
                with lock:
                    answers[status] += 1
        finally:
            connection.close()

    threads = [threading.Thread(target=caller, args=(acts[n::CALLERS],)) for n in range(CALLERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def many(times: int, act: Callable[[int], tuple[str, dict[str, Any]]]) -> list[Act]:
    return [(*act(n), f"k-{n}") for n in range(times)]


def test_of_twice_as_many_takers_half_get_one(as_storeroom: APIClient, item: Item, main: Storeroom) -> None:
    make.stock(item, main, 40)
    answers = storm(as_storeroom, many(80, lambda n: (PATH, movement("issue", quantity=1))))
    assert answers == {201: 40, 409: 40}
    assert StockLevel.objects.get().on_hand == 0
    assert verify() == ()


def test_issues_and_reservations_share_what_there_is(
    as_storeroom: APIClient, item: Item, main: Storeroom
) -> None:
    make.stock(item, main, 20)
    hold = {"item": "SPR-1", "storeroom": "MAIN", "quantity": 1}
    answers = storm(
        as_storeroom,
        many(
            48,
            lambda n: (
                (PATH, movement("issue", quantity=1))
                if n % 2
                else ("/api/v1/reservations/", hold | {"work_order": f"WO-{n}"})
            ),
        ),
    )
    level = StockLevel.objects.get()
    assert answers == {201: 20, 409: 28}
    assert level.on_hand == level.reserved
    assert verify() == ()


def test_what_is_taken_from_others_is_never_held_too(
    as_storeroom: APIClient, item: Item, main: Storeroom
) -> None:
    make.stock(item, main, 10)
    hold = {"item": "SPR-1", "storeroom": "MAIN", "quantity": 2}
    urgent = movement("issue", quantity=1, work_order="WO-X", override={"reason": "kiln is down"})
    answers = storm(
        as_storeroom,
        many(
            32,
            lambda n: (PATH, urgent) if n % 2 else ("/api/v1/reservations/", hold | {"work_order": f"W-{n}"}),
        ),
    )
    assert set(answers) <= {201, 409}
    issued = StockEntry.objects.issues().count()
    assert (issued, StockLevel.objects.get().on_hand) == (10, 0)
    short = sum(Reservation.objects.values_list("short_quantity", flat=True))
    assert short == sum(Reservation.objects.values_list("quantity", flat=True))
    assert verify() == ()


def test_ways_to_and_fro_do_not_lock_each_other_out(
    as_storeroom: APIClient, item: Item, main: Storeroom
) -> None:
    make.stock(item, main, 30)
    make.stock(item, make.StoreroomFactory(code="NORTH"), 30)
    there = movement("transfer", quantity=1, to_storeroom="NORTH")
    back = movement("transfer", quantity=1, storeroom="NORTH", to_storeroom="MAIN")
    assert storm(as_storeroom, many(64, lambda n: (PATH, there if n % 2 else back))) == {201: 64}
    assert sum(StockLevel.objects.values_list("on_hand", flat=True)) == 60
    assert verify() == ()


def test_a_count_keeps_the_issues_beside_it(as_storeroom: APIClient, item: Item, main: Storeroom) -> None:
    make.stock(item, main, 100)
    count = movement("count", counted=101, seen=100)
    acts = many(33, lambda n: (PATH, count if n == 16 else movement("issue", quantity=1)))
    assert storm(as_storeroom, acts) == {201: 33}
    assert StockLevel.objects.get().on_hand == 69
    assert verify() == ()


def test_a_movement_is_taken_back_by_one(as_storeroom: APIClient, item: Item, main: Storeroom) -> None:
    make.stock(item, main, 3)
    issued = movements.issue(item, main, 2, by=MARTA).entry.pk
    answers = storm(as_storeroom, many(16, lambda n: (f"{PATH}{issued}/reverse/", {"reason": "mistake"})))
    assert answers == {201: 1, 409: 15}
    assert StockLevel.objects.get().on_hand == 3


def test_twenty_with_one_key_have_one_effect(as_storeroom: APIClient, item: Item, main: Storeroom) -> None:
    make.stock(item, main, 30)
    answers = storm(as_storeroom, [(PATH, movement("issue", quantity=1), "the-key")] * 20)
    assert set(answers) <= {201, 409}
    assert StockLevel.objects.get().on_hand == 29
    assert post(as_storeroom, PATH, movement("issue", quantity=1), key="the-key").status_code == 201
    assert StockEntry.objects.issues().count() == 1

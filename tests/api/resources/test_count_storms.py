"""Counts, kits and ways out that meet at one shelf."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import CountTask, Kit, StockLevel
from inventory.stores.counting.count_requests import request_count
from inventory.stores.ledger.verify import verify
from tests import factories as make
from tests.api.resources.test_movement_storms import many, storm

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


def test_a_blind_count_and_what_is_not_there_do_not_lock_each_other_out(as_storeroom: APIClient) -> None:
    item, room = make.ItemFactory(stock_number="SPR-1"), make.StoreroomFactory()
    make.stock(item, room, 9)
    task = request_count(item, room, "new", cause="asked", at=make.MORNING).pk
    shelf: dict[str, Any] = {"item": "SPR-1", "storeroom": "MAIN"}
    answers = storm(
        as_storeroom,
        many(
            32,
            lambda n: (
                (f"/api/v1/count-tasks/{task}/count/", {"counted": 3})
                if n % 2
                else ("/api/v1/movements/not-there/", shelf)
            ),
        ),
    )
    assert answers == {201: 16, 200: 1, 409: 15}
    assert CountTask.objects.get(pk=task).state == "counted"
    assert verify() == ()


def test_of_many_kits_for_the_same_parts_as_many_are_made_as_there_are(as_storeroom: APIClient) -> None:
    room = make.StoreroomFactory()
    for number in ("SPR-1", "SPR-2"):
        make.stock(make.ItemFactory(stock_number=number), room, 5)

    def kit(n: int) -> tuple[str, dict[str, Any]]:
        numbers = ("SPR-1", "SPR-2") if n % 2 else ("SPR-2", "SPR-1")
        lines = [{"item": number, "quantity": 1} for number in numbers]
        return "/api/v1/kits/", {"work_order": f"WO-{n}", "storeroom": "MAIN", "lines": lines}

    assert storm(as_storeroom, many(32, kit)) == {201: 5, 409: 27}
    assert Kit.objects.count() == 5
    assert {(level.on_hand, level.reserved) for level in StockLevel.objects.all()} == {(5, 5)}
    assert verify() == ()

"""A storm of 16 processes over one SQLite file, run as a program of its own: prints the statuses and what was left.

`python -m tests.api.sqlite_storm TAKES` with DATABASE_URL naming a migrated file without rows.
"""

import json
import os
import sys
from collections import Counter
from multiprocessing import get_context
from typing import Any

PROCESSES = 16


def main(takes: int) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
    import django

    django.setup()
    from django.db import connections

    secret = prepare(PROCESSES * takes // 2)
    connections.close_all()
    with get_context("fork").Pool(PROCESSES) as pool:
        answers = pool.starmap(take, [(secret, number, takes) for number in range(PROCESSES)])
    statuses = Counter(str(status) for many in answers for status in many)
    print(json.dumps({"statuses": statuses, **left()}))


def prepare(quantity: int) -> str:
    from api.models import AccessToken
    from tests import factories as make

    item, room = make.ItemFactory(stock_number="SPR-1"), make.StoreroomFactory()
    make.stock(item, room, quantity)
    make.stock(item, make.StoreroomFactory(code="NORTH"), quantity)
    return str(AccessToken.objects.issue("the storm", role="storeroom")[1])


def take(secret: str, number: int, takes: int) -> list[int]:
    """Issues, and ways to and fro between the two rooms, as fast as they are answered."""
    from rest_framework.test import APIClient

    client = APIClient(raise_request_exception=False, SERVER_NAME="localhost")
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    rooms = ("MAIN", "NORTH") if number % 2 else ("NORTH", "MAIN")
    statuses = []
    for turn in range(takes):
        issue: dict[str, Any] = {"kind": "issue", "item": "SPR-1", "storeroom": "MAIN", "quantity": 1}
        way = {"kind": "transfer", "item": "SPR-1", "storeroom": rooms[0], "to_storeroom": rooms[1]}
        for name, body in (("i", issue), ("w", {**way, "quantity": 1})):
            answer = client.post(
                "/api/v1/movements/", body, HTTP_IDEMPOTENCY_KEY=f"{number}-{turn}-{name}", format="json"
            )
            statuses.append(answer.status_code)
    return statuses


def left() -> dict[str, Any]:
    from django.db.models import Sum

    from inventory.models import StockEntry, StockLevel
    from inventory.stores.ledger.verify import verify

    return {
        "on_hand": StockLevel.objects.aggregate(total=Sum("on_hand"))["total"],
        "issues": StockEntry.objects.issues().count(),
        "differences": [str(one) for one in verify()],
    }


if __name__ == "__main__":
    main(int(sys.argv[1]))

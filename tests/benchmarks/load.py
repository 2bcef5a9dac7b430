"""A load test that ends by itself: clients that book, drop answers and ask again, and the books compared with what they were told.

    DATABASE_URL=... python -m tests.benchmarks.load [--clients 16] [--transactions 10000] [--dropped 0.1] [--seconds 900]

In a migrated database it adds items and storerooms of its own and serves it as in production (two processes of two threads).
Of all transactions 60 in a hundred are issues from many shelves, 20 from one shelf that has too little, and 20 transfers to and
fro between two storerooms. `--dropped` of them are sent by a client that goes away before the answer and asks again with
the same key. It ends when all are answered, at the latest after `--seconds` and a minute; the status is 1 if an answer is missing,
a server error reached a client, or the books differ from the answers: a movement lost or booked twice, more issued than there
was, a sum of the ledger that is not the balance, an event too few.
"""

import argparse
import os
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")

import django

from tests.benchmarks.issue_clients import Answer, HttpClient
from tests.benchmarks.measures import percentile
from tests.proof.service import Service

WIDE, TO_AND_FRO = 60, 4
PLENTY = 1_000_000
PAUSE_SECONDS = 0.05


@dataclass(frozen=True)
class Act:
    """One movement of one piece; `to` makes it a transfer."""

    key: str
    item: str
    room: str
    to: str = ""

    @property
    def body(self) -> dict[str, Any]:
        found = {"item": self.item, "storeroom": self.room, "quantity": 1}
        return found | ({"kind": "transfer", "to_storeroom": self.to} if self.to else {"kind": "issue"})


@dataclass(frozen=True)
class Outcome:
    """`status` 0: no answer in time."""

    act: Act
    status: int
    movement: int | None
    seconds: float
    was_dropped: bool


@dataclass(frozen=True)
class Stores:
    """Names that no other run has."""

    run: str

    @property
    def rooms(self) -> tuple[str, str]:
        return f"{self.run}-A", f"{self.run}-B"

    @property
    def hot(self) -> str:
        return f"{self.run}-HOT"

    @property
    def wide(self) -> list[str]:
        return [f"{self.run}-W{number}" for number in range(WIDE)]

    @property
    def to_and_fro(self) -> list[str]:
        return [f"{self.run}-T{number}" for number in range(TO_AND_FRO)]


def acts_of(stores: Stores, transactions: int, seed: int = 1) -> list[Act]:
    chance, found = random.Random(seed), []
    here, there = stores.rooms
    for number in range(transactions):
        key, turn = f"{stores.run}-{number}", chance.random()
        if turn < 0.6:
            found.append(Act(key, chance.choice(stores.wide), here))
        elif turn < 0.8:
            found.append(Act(key, stores.hot, here))
        else:
            room, to = (here, there) if chance.random() < 0.5 else (there, here)
            found.append(Act(key, chance.choice(stores.to_and_fro), room, to))
    return found


def client(port: int, token: str, acts: Sequence[Act], dropped: float, until: float) -> list[Outcome]:
    http, chance = HttpClient(port, token), random.Random(acts[0].key if acts else "")
    return [booked(http, act, chance.random() < dropped, until) for act in acts]


def booked(http: HttpClient, act: Act, drops: bool, until: float) -> Outcome:
    began, is_first = time.monotonic(), True
    while time.monotonic() < until:
        try:
            if drops and is_first:
                http.send(act.key, act.body)
                time.sleep(random.uniform(0, PAUSE_SECONDS))
                http.drop()
                is_first = False
            answer = http.post(act.key, act.body)
        except OSError:
            http.drop()
            continue
        if not is_running(answer):
            movement = answer.json["id"] if answer.status == 201 else None
            return Outcome(act, answer.status, movement, time.monotonic() - began, drops)
        time.sleep(PAUSE_SECONDS)
    return Outcome(act, 0, None, time.monotonic() - began, drops)


def is_running(answer: Answer) -> bool:
    return answer.status == 409 and answer.json["code"] == "request_still_running"


def stocked(stores: Stores, hot_pieces: int) -> None:
    from inventory.models import Item, MovementKind, Storeroom
    from inventory.stores import ledger

    rooms = [Storeroom.objects.create(code=code, name="Of a load test") for code in stores.rooms]
    names, receipts = [stores.hot, *stores.wide, *stores.to_and_fro], []
    made = [Item(stock_number=name, description="Of a load test") for name in names]
    for name, item in zip(names, Item.objects.bulk_create(made), strict=True):
        pieces = hot_pieces if name == stores.hot else PLENTY
        for room in rooms if name in stores.to_and_fro else rooms[:1]:
            receipt = {"item": item, "storeroom": room, "quantity": pieces, "by": "the load test"}
            receipts.append(ledger.Movement(kind=MovementKind.RECEIPT, **receipt))
    ledger.book_many(receipts)


def tokens_for(clients: int) -> list[str]:
    from api.models import AccessToken

    return [AccessToken.objects.issue(f"load {n}", role="storeroom", days=1)[1] for n in range(clients)]


def differences(stores: Stores, outcomes: Sequence[Outcome], hot_pieces: int) -> Iterator[str]:
    """What the books say otherwise than the answers."""
    from inventory.models import Event, Item, StockEntry, StockLevel
    from inventory.stores.ledger.verify import verify

    items = Item.objects.filter(stock_number__startswith=f"{stores.run}-")
    entries = StockEntry.objects.filter(item__in=items).exclude(kind="receipt")
    told = [one.movement for one in outcomes if one.movement is not None]
    if len(set(told)) < len(told):
        yield f"{len(told) - len(set(told))} keys were answered with the movement of another"
    kept = set(entries.filter(change__lt=0).values_list("pk", flat=True))
    if lost := set(told) - kept:
        yield f"{len(lost)} movements were answered and are not in the ledger"
    if more := kept - set(told):
        yield f"{len(more)} movements are in the ledger and were not answered"
    requested = sum(one.act.item == stores.hot for one in outcomes)
    issued = -sum(entries.filter(item__stock_number=stores.hot).values_list("change", flat=True))
    if issued != min(hot_pieces, requested):
        yield f"{issued} pieces of {hot_pieces} went out to {requested} requests"
    gone = Counter(one.act.item for one in outcomes if one.movement is not None and not one.act.to)
    for level in StockLevel.objects.filter(item__in=items, item__stock_number__in=[*stores.wide]):
        name = level.item.stock_number
        if level.on_hand != PLENTY - gone[name]:
            yield f"{name}: {level.on_hand} on hand, {PLENTY} came in and {gone[name]} went out"
    yield from (f"the ledger: {found}" for found in verify())
    shelves = Event.objects.filter(type="stock.moved", aggregate__startswith=f"stock/{stores.run}-")
    lines = StockEntry.objects.filter(item__in=items).count()
    if shelves.count() != lines:
        yield f"{shelves.count()} events of {lines} lines"


def summary(outcomes: Sequence[Outcome], seconds: float) -> Iterator[str]:
    times = [one.seconds for one in outcomes if one.status]
    statuses = Counter(one.status for one in outcomes)
    told = ", ".join(f"{count} x {status or 'no answer'}" for status, count in sorted(statuses.items()))
    yield f"{len(outcomes)} transactions in {seconds:.1f} s ({len(times) / seconds:.0f} a second): {told}"
    yield f"{sum(one.was_dropped for one in outcomes)} answers dropped and asked for again"
    if times:
        found = " ".join(f"p{percent} {percentile(times, percent):.3f}" for percent in (50, 95, 99))
        yield f"seconds to the answer: {found}, longest {max(times):.3f}"


def run(clients: int, transactions: int, dropped: float, seconds: float) -> int:
    from django.db import connections

    stores = Stores(f"L{time.time_ns() // 1_000_000 % 10**10}")
    acts = acts_of(stores, transactions)
    hot_pieces = sum(act.item == stores.hot for act in acts) // 2
    stocked(stores, hot_pieces)
    tokens = tokens_for(clients)
    connections.close_all()
    url = os.environ["DATABASE_URL"]
    service = Service(url, tokens[0], WEB_CONCURRENCY="2", REQUESTS_PER_MINUTE="10000000")
    try:
        service.start(threads=2)
        began = time.monotonic()
        shares = [acts[number::clients] for number in range(clients)]
        given = [
            (service.port, token, share, dropped, began + seconds)
            for token, share in zip(tokens, shares, strict=True)
        ]
        with get_context("fork").Pool(clients) as pool:
            outcomes = [one for many in pool.starmap(client, given, chunksize=1) for one in many]
        took = time.monotonic() - began
    finally:
        service.kill()
    faults = list(differences(stores, outcomes, hot_pieces))
    faults += [
        f"{one.act.key}: {one.status or 'no answer'}" for one in outcomes if one.status not in (201, 409)
    ]
    print("\n".join([*summary(outcomes, took), f"{len(faults)} faults", *faults[:20]]))
    return 1 if faults else 0


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--clients", type=int, default=16)
    parser.add_argument("--transactions", type=int, default=10_000)
    parser.add_argument("--dropped", type=float, default=0.1)
    parser.add_argument("--seconds", type=float, default=900)
    options = parser.parse_args()
    if "DATABASE_URL" not in os.environ:
        parser.error("DATABASE_URL must name the database: the load test leaves its items in it.")
    django.setup()
    return run(options.clients, options.transactions, options.dropped, options.seconds)


if __name__ == "__main__":
    sys.exit(main())

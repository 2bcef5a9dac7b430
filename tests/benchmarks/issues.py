"""Issues over HTTP beside the least that the database does for one: 1, 4 and 16 clients, on many shelves and on one.

The service runs as in production (gunicorn, two processes of two threads); its clients and the database share the same
processors with it. The raw transactions lock a row of a bare table, look, change it, append a line and commit. Where a flush to disk
costs next to nothing, they cost little more than its processor time: so the flushes are counted too.
`ISSUE_SECONDS` says how long each is measured (3), `ISSUE_ROUNDS` how often (3, the median counts).
"""

import os
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from statistics import median
from typing import Any

from django.db import connection, connections, transaction

from api.models import AccessToken
from inventory.models import Item, MovementKind, StockLevel, Storeroom
from inventory.stores import ledger
from inventory.stores.ledger import Movement
from tests.benchmarks.issue_clients import HttpClient, Take, Turn, at_once, raw_postgresql, raw_sqlite
from tests.benchmarks.measures import Measure, percentile
from tests.proof.service import Service

SHELVES = 400
PIECES = 10_000_000
CLIENTS = (1, 4, 16)
GOALS = {"many shelves": 0.2, "one shelf": 0.5}
LONGEST_P95_MS = 80.0
STOCKROOM = "RAW-MAIN"


@dataclass(frozen=True)
class Round:
    ours_per_second: float
    raw_per_second: float
    p95_ms: float


def measures() -> Iterator[Measure]:
    seconds, rounds = float(os.environ.get("ISSUE_SECONDS", "3")), int(os.environ.get("ISSUE_ROUNDS", "3"))
    yield Measure("flushes to disk, one after another", "/s", flushes_per_second(), 0, "ours", at_least=True)
    items, tokens = stocked(), [token(number) for number in range(max(CLIENTS))]
    make_raw_tables()
    connections.close_all()
    service = Service(database_url(), tokens[0], WEB_CONCURRENCY="2", REQUESTS_PER_MINUTE="10000000")
    try:
        service.start(threads=2)
        for where, goal in GOALS.items():
            for clients in CLIENTS:
                width = SHELVES if where == "many shelves" else 1
                found = [one_round(service, tokens[:clients], items[:width], seconds) for _ in range(rounds)]
                yield from measures_of(f"issue over HTTP, {where}, {clients} at once", found, goal)
    finally:
        service.kill()
        drop_raw_tables()


def flushes_per_second(seconds: float = 1.0) -> float:
    """Of 8 kB each, as a commit writes."""
    with tempfile.TemporaryFile() as file:
        began, done = time.monotonic(), 0
        while (took := time.monotonic() - began) < seconds:
            file.seek(0)
            file.write(bytes(8_192))
            file.flush()
            os.fdatasync(file.fileno())
            done += 1
    return done / took


def measures_of(what: str, found: list[Round], goal: float) -> Iterator[Measure]:
    middle = sorted(found, key=lambda one: one.ours_per_second / one.raw_per_second)[len(found) // 2]
    yield Measure(
        what,
        "/s",
        middle.ours_per_second,
        goal,
        "ratio",
        anchor=middle.raw_per_second,
        anchor_name="raw transactions",
        at_least=True,
    )
    if what == "issue over HTTP, many shelves, 4 at once":
        yield Measure(f"{what}, p95", "ms", median(one.p95_ms for one in found), LONGEST_P95_MS, "ours")


def one_round(service: Service, tokens: list[str], items: list[str], seconds: float) -> Round:
    """Raw, ours, raw: what else the machine does meanwhile meets both."""
    raw = raw_postgresql if connection.vendor == "postgresql" else raw_sqlite
    shelves = list(range(1, len(items) + 1))
    share = len(items) // len(tokens) or 1
    raw_clients = [(raw, database_url(), own(shelves, number * share)) for number in range(len(tokens))]
    ours = [(over_http, service.port, one, own(items, number * share)) for number, one in enumerate(tokens)]
    before = len(at_once(raw_clients, seconds / 2))
    times = at_once(ours, seconds)
    after = len(at_once(raw_clients, seconds / 2))
    if not times or not before + after:
        raise SystemExit(
            f"Nothing was taken within {seconds:g} s: set ISSUE_SECONDS higher on a machine this busy."
        )
    return Round(len(times) / seconds, (before + after) / seconds, percentile(times, 95) * 1000)


def own(shelves: list[Any], start: int) -> list[Any]:
    """The same shelves for each, beginning elsewhere."""
    start %= len(shelves)
    return shelves[start:] + shelves[:start]


def over_http(port: int, token: str, items: list[str]) -> Take:
    client, turns, chosen, run = HttpClient(port, token), count(), Turn(items), os.urandom(8).hex()

    def take() -> bool:
        body = {"kind": "issue", "item": chosen.next(), "storeroom": STOCKROOM, "quantity": 1}
        answer = client.post(f"{run}-{next(turns)}", body)
        assert answer.status == 201, answer
        return True

    return take


def stocked() -> list[str]:
    """Stock numbers of items that lie in a storeroom of the benchmark's own; the ledger wrote all of it."""
    room, _ = Storeroom.objects.get_or_create(code=STOCKROOM, defaults={"name": "Raw and ours"})
    names = [f"RAW-{number}" for number in range(SHELVES)]
    made = [Item(stock_number=name, description="Of the benchmark of issues") for name in names]
    Item.objects.bulk_create(made, ignore_conflicts=True)
    items = Item.objects.filter(stock_number__in=names)
    levels = StockLevel.objects.filter(item__in=items, storeroom=room)
    there = dict(levels.values_list("item__stock_number", "on_hand"))
    receipts = [
        Movement(kind=MovementKind.RECEIPT, item=item, storeroom=room, by="the benchmark", quantity=PIECES)
        for item in items
        if there.get(item.stock_number, 0) < PIECES // 2
    ]
    ledger.book_many(receipts)
    return names


def token(number: int) -> str:
    return AccessToken.objects.issue(f"benchmark {number}", role="storeroom", days=1)[1]


def database_url() -> str:
    return os.environ["DATABASE_URL"]


def make_raw_tables() -> None:
    drop_raw_tables()
    pk = "INTEGER PRIMARY KEY" if connection.vendor == "sqlite" else "BIGSERIAL PRIMARY KEY"
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "CREATE TABLE raw_level (id INTEGER PRIMARY KEY, on_hand INTEGER CHECK (on_hand >= 0))"
        )
        cursor.execute(
            f"CREATE TABLE raw_entry (id {pk}, level_id INTEGER, change INTEGER, balance_after INTEGER, at TIMESTAMP)"
        )
        cursor.execute("CREATE INDEX raw_entry_of_level ON raw_entry (level_id, id)")
        rows = [(number, PIECES) for number in range(1, SHELVES + 1)]
        cursor.executemany("INSERT INTO raw_level (id, on_hand) VALUES (%s, %s)", rows)


def drop_raw_tables() -> None:
    with connection.cursor() as cursor:
        for name in ("raw_entry", "raw_level"):
            cursor.execute(f"DROP TABLE IF EXISTS {name}")

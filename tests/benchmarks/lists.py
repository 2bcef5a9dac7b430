"""Every documented order, filter and deepest page of every list against its first page, and searches against a scan.

    DATABASE_URL=... python -m tests.benchmarks.report --only lists

Judged by milliseconds of CPU, of this process and of the process of PostgreSQL that serves it, so that a busy machine counts for little. A question
that misses its goal is asked again beside its first page, so that a million items take minutes. Each list has a line for its worst order, deepest page and filter, and one for
each other that misses, with the steps of the database (as `growth` counts them) and what its plan scans without an index or
sorts. Filters are judged alone; two together by the 95th percentile. The first page, which is their anchor, is judged by its steps.
"""

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth import get_user_model
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from api.wire.declaration import WireRecord, wire_records
from api.wire.views import view_of
from inventory.models import Item
from tests.benchmarks.growth import counted
from tests.benchmarks.list_questions import Query, alone, deepest, orders, together
from tests.benchmarks.measures import Measure, percentile

SMALL = 500
"""A list that is one page long at most needs no index."""
GREATEST_DEEP, GREATEST_FILTER, LEAST_SCANS_SAVED = 1.5, 5.0, 50
GREATEST_STEPS = 20
"""For a row of a first page, which is the anchor of the rest: a list that is read in its order takes 1 to 5 on SQLite, 3 to 9 on PostgreSQL."""
TRIES = 3


@dataclass(frozen=True)
class Asked:
    what: str
    milliseconds: float
    first: float
    plan: str = ""

    @property
    def ratio(self) -> float:
        return self.milliseconds / self.first


class Lists:
    """The lists as a person who may see everything reads them."""

    def __init__(self) -> None:
        user, _ = get_user_model().objects.get_or_create(username="growth", is_superuser=True, is_staff=True)
        self.client = Client(SERVER_NAME="127.0.0.1")
        self.client.force_login(user)
        if connection.vendor == "postgresql":
            # Processes that help would not be counted.
            with connection.cursor() as cursor:
                cursor.execute("SET max_parallel_workers_per_gather = 0")

    def get(self, path: str, query: Query) -> Any:
        response = self.client.get(f"/api/v1/{path}/?{urlencode(query)}")
        if response.status_code != 200:
            raise SystemExit(f"{path} {query} answered {response.status_code}: {response.content[:300]!r}")
        return response

    def once(self, path: str, query: Query) -> float:
        began = busy_seconds()
        self.get(path, query)
        return (busy_seconds() - began) * 1000

    def cost(self, path: str, query: Query, enough: float = 0.0) -> float:
        """Milliseconds at best of a few calls, or of the first that is good enough."""
        best = float("inf")
        for _ in range(TRIES):
            best = min(best, self.once(path, query))
            if best <= enough:
                break
        return best

    def asked(
        self, record: WireRecord, what: str, query: Query, anchor: Query, first: float, goal: float
    ) -> Asked:
        found = Asked(what, self.cost(record.path, query, first * goal), first)
        if found.ratio > goal:
            pairs = [(self.once(record.path, query), self.once(record.path, anchor)) for _ in range(TRIES)]
            ours, beside = (min(times) for times in zip(*pairs, strict=True))
            found = Asked(what, ours, beside)
        return found if found.ratio <= goal else replace(found, plan=self.why(record, query))

    def why(self, record: WireRecord, query: Query) -> str:
        with counted() as counter:
            self.get(record.path, query)
        return f"{counter.steps} steps {self.plan(record, query)}"

    def is_refused(self, record: WireRecord, query: Query) -> bool:
        return self.client.get(f"/api/v1/{record.path}/?{urlencode(query)}").status_code == 400

    def plan(self, record: WireRecord, query: Query) -> str:
        """What its queries scan without an index, or sort, by the plan of the database."""
        table = record.model._meta.db_table
        with CaptureQueriesContext(connection) as caught:
            self.get(record.path, query)
        explain = "EXPLAIN QUERY PLAN " if connection.vendor == "sqlite" else "EXPLAIN "
        lines = set()
        with connection.cursor() as cursor:
            for one in caught.captured_queries:
                if f'FROM "{table}"' in one["sql"] and one["sql"].startswith("SELECT"):
                    cursor.execute((explain + one["sql"]).replace("%", "%%"), [])
                    lines |= {str(row[-1]).strip() for row in cursor.fetchall()}
        return "; ".join(sorted(line for line in lines if reads_much(line)))


def busy_seconds() -> float:
    """Of the processor, for this process and the one that PostgreSQL has for its connection."""
    used = time.process_time()
    if connection.vendor == "postgresql":
        server = Path(f"/proc/{connection.connection.info.backend_pid}/schedstat")
        used += int(server.read_text().split()[0]) / 1e9
    return used


def reads_much(line: str) -> bool:
    """A scan that no index leads, or a sort of everything that is found."""
    scans = line.startswith("SCAN ") and "USING" not in line and "json_each" not in line
    return scans or "Seq Scan" in line or line == "USE TEMP B-TREE FOR ORDER BY" or line.startswith("Sort  (")


def steps_of(lists: Lists, record: WireRecord) -> Measure:
    with counted() as counter:
        rows = lists.get(record.path, {}).json()["results"]
    what = f"{record.path}: first page"
    return Measure(what, "steps", counter.steps, GREATEST_STEPS, "ratio", len(rows), "rows of the page")


def all_of(lists: Lists, record: WireRecord) -> Iterator[tuple[str, float, list[Asked]]]:
    path = record.path
    lists.get(path, {})
    first = lists.cost(path, {})
    by_order = [
        lists.asked(record, order, {"ordering": order}, {}, first, GREATEST_FILTER)
        for order in orders(record)
    ]
    yield "order", GREATEST_FILTER, by_order
    begins = {None: first} | {one.what: one.milliseconds for one in by_order}
    deep = [
        lists.asked(record, what, query, {"ordering": order} if order else {}, began, GREATEST_DEEP)
        for order, began in begins.items()
        for what, query in deepest(record, order)
    ]
    yield "deepest", GREATEST_DEEP, deep
    values = alone(record)
    single = [{name: value} for name, kinds in values.items() for value in kinds.values()]
    yield "filter", GREATEST_FILTER, filtered(lists, record, single, first)
    yield (
        "filters together",
        GREATEST_FILTER,
        filtered(
            lists, record, (query for query in together(values) if not lists.is_refused(record, query)), first
        ),
    )


def filtered(lists: Lists, record: WireRecord, queries: Iterable[Query], first: float) -> list[Asked]:
    return [
        lists.asked(record, urlencode(query, safe=":,"), query, {}, first, GREATEST_FILTER)
        for query in queries
    ]


def long_lists() -> Iterator[WireRecord]:
    for record in wire_records():
        if record.listed and view_of(record).ordering and record.model._base_manager.count() > SMALL:
            yield record


def measures() -> Iterator[Measure]:
    lists = Lists()
    for record in long_lists():
        yield steps_of(lists, record)
        for kind, goal, asked in all_of(lists, record):
            if not asked:
                continue
            worst = max(asked, key=lambda one: one.ratio)
            if kind == "filters together":
                usual = percentile([one.ratio for one in asked], 95)
                what = f"{record.path}: {len(asked)} x two filters, p95"
                yield Measure(what, "ms", usual * worst.first, goal, "ratio", worst.first, "first page")
                continue
            for one in asked:
                if one is worst or one.ratio > goal:
                    anchor = f"first page {one.plan}".strip()
                    yield Measure(
                        f"{record.path}: {kind} {one.what}",
                        "ms",
                        one.milliseconds,
                        goal,
                        "ratio",
                        one.first,
                        anchor,
                    )
    yield from searches(lists)


def searches(lists: Lists) -> Iterator[Measure]:
    """The statements of the list of items for a part of a number, against a scan of the columns that `q` searches."""
    number = Item.objects.order_by("pk")[Item.objects.count() // 2].stock_number
    columns = ("stock_number", "description", "maker_part_number", "maker")
    where = " OR ".join(f"UPPER({name}) LIKE %s" for name in columns)

    def listed() -> tuple[float, list[str]]:
        with CaptureQueriesContext(connection) as caught:
            rows = lists.get("items", {"q": number}).json()["results"]
        asked = [one["sql"] for one in caught.captured_queries if "inventory_item" in one["sql"]]
        began = busy_seconds()
        with connection.cursor() as cursor:
            for statement in asked:
                cursor.execute(statement)
                cursor.fetchall()
        return busy_seconds() - began, [row["stock_number"] for row in rows]

    def scanned() -> tuple[float, list[str]]:
        began = busy_seconds()
        with connection.cursor() as cursor:
            cursor.execute(
                f"SELECT stock_number FROM inventory_item WHERE {where}", [f"%{number.upper()}%"] * 4
            )
            found = sorted(key for (key,) in cursor.fetchall())
        return busy_seconds() - began, found

    if listed()[1] != scanned()[1]:
        raise SystemExit(f"{number}: the index finds other items than the scan")
    ours, scan = (min(call()[0] for _ in range(TRIES)) * 1000 for call in (listed, scanned))
    yield Measure(f"items by {number}", "ms", ours, 1 / LEAST_SCANS_SAVED, "ratio", scan, "unindexed scan")

"""Every documented order, filter and deep page of the long lists against their first page, and a search against a scan.

    DATABASE_URL=... python -m tests.benchmarks.report --only lists

Each list has a line for its worst order, filter and deep page, and one for each other that misses its goal; behind the anchor stands
what the plan of the database scans without an index or sorts.
"""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth import get_user_model
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from api.edge.filtering import MomentFilter, TruthFilter
from api.edge.pagination import Cursor, encode, order_keys
from api.wire.declaration import wire_records
from api.wire.views import view_of
from inventory.models import Item, Storeroom
from inventory.models.text_index import among
from inventory.plumbing.text_search import rows_with_words
from tests.benchmarks.measures import Measure

PATHS = ("items", "stock", "movements", "requests", "installations", "positions", "drives", "specifications")
DEEP = 0.9
TRIES = 3
SAMPLED = 300
GREATEST_DEEP, GREATEST_FILTER, LEAST_SCANS_SAVED = 1.5, 5.0, 50


@dataclass(frozen=True)
class Asked:
    what: str
    milliseconds: float
    first: float
    plan: str

    @property
    def ratio(self) -> float:
        return self.milliseconds / self.first


class Lists:
    """The lists as a person who may see everything reads them."""

    def __init__(self) -> None:

        user, _ = get_user_model().objects.get_or_create(username="growth", is_superuser=True, is_staff=True)
        self.client = Client(SERVER_NAME="127.0.0.1")
        self.client.force_login(user)
        self.records = {record.path: record for record in wire_records()}

    def get(self, path: str, query: dict[str, str]) -> Any:
        response = self.client.get(f"/api/v1/{path}/?{urlencode(query)}")
        if response.status_code != 200:
            raise SystemExit(f"{path} {query} answered {response.status_code}: {response.content[:300]!r}")
        return response

    def cpu(self, path: str, query: dict[str, str]) -> float:
        """Milliseconds of this process at best. On PostgreSQL the server works elsewhere: there the clock counts."""

        clock = time.process_time if connection.vendor == "sqlite" else time.perf_counter
        best = float("inf")
        for _ in range(TRIES):
            began = clock()
            self.get(path, query)
            best = min(best, (clock() - began) * 1000)
        return best

    def asked(self, path: str, what: str, query: dict[str, str], first: float) -> Asked:
        return Asked(what, self.cpu(path, query), first, self.plan(path, query))

    def plan(self, path: str, query: dict[str, str]) -> str:
        """What its queries scan without an index, or sort, by the plan of the database."""

        table = self.records[path].model._meta.db_table
        with CaptureQueriesContext(connection) as caught:
            self.get(path, query)
        explain = "EXPLAIN QUERY PLAN " if connection.vendor == "sqlite" else "EXPLAIN "
        lines = set()
        with connection.cursor() as cursor:
            for one in caught.captured_queries:
                if f'FROM "{table}"' in one["sql"] and one["sql"].startswith("SELECT"):
                    cursor.execute((explain + one["sql"]).replace("%", "%%"), [])
                    lines |= {str(row[-1]).strip() for row in cursor.fetchall()}
        return "; ".join(sorted(line for line in lines if reads_much(line)))

    def orders(self, path: str) -> Iterator[str]:

        for name in view_of(self.records[path]).ordering_fields:
            yield name
            yield f"-{name}"

    def filters(self, path: str) -> Iterator[tuple[str, str]]:
        """Each filter with a value that stands in the list."""

        room = Storeroom.objects.order_by("pk")[1].code
        filters = view_of(self.records[path]).filterset_class.base_filters
        columns = sorted({one.field_name for one in filters.values() if one.field_name and not one.method})
        rows = self.rows(path)
        middle = rows.model.objects.order_by("pk")[rows.model.objects.count() // 2].pk
        some = rows.filter(pk__gte=middle).order_by("pk").values(*columns)[:SAMPLED]
        values = {
            name: next((row[name] for row in some if row[name] not in (None, "")), None) for name in columns
        }
        for name, one in filters.items():
            if isinstance(one, TruthFilter):
                yield from ((name, "true"), (name, "false"))
            elif isinstance(one, MomentFilter) and one.method:
                yield name, "2026-01-01T00:00:00Z"
            elif one.method:
                yield name, (one.extra.get("choices") or [room])[0]
            else:
                value = values[one.field_name]
                if value is not None:
                    yield name, value.isoformat() if hasattr(value, "isoformat") else str(value)

    def rows(self, path: str) -> Any:
        return view_of(self.records[path])(action="list", kwargs={}, request=None).get_queryset()

    def deep(self, path: str, order: str | None) -> dict[str, str]:
        """The query of a page that begins at nine tenths of the list."""

        view, rows = view_of(self.records[path]), self.rows(path)
        paths = view.ordering_fields
        asked = (
            [paths[order.removeprefix("-")]] if order else [one.removeprefix("-") for one in view.ordering]
        )
        falling = [order.startswith("-")] if order else [one.startswith("-") for one in view.ordering]
        keys = order_keys(rows, list(zip(asked, falling, strict=True)))
        ordered = rows.order_by(*(key.order(False) for key in keys)).values_list(*(key.path for key in keys))
        row = ordered[int(rows.count() * DEEP)]
        name = ",".join(f"{'-' * key.descending}{key.path}" for key in keys)
        query = {"cursor": encode(Cursor(name, False, list(row)))}
        return query | ({"ordering": order} if order else {})


def reads_much(line: str) -> bool:
    """A scan that no index leads, or a sort of everything that is found."""
    scans = line.startswith("SCAN ") and "USING" not in line and "json_each" not in line
    return scans or "Seq Scan" in line or line == "USE TEMP B-TREE FOR ORDER BY" or line.startswith("Sort  (")


def all_of(lists: Lists, path: str) -> dict[str, list[Asked]]:
    first = lists.cpu(path, {})
    found: dict[str, list[Asked]] = {"order": [], "filter": [], "deep page": []}
    found["deep page"].append(lists.asked(path, "its own order", lists.deep(path, None), first))
    for order in lists.orders(path):
        asked = lists.asked(path, order, {"ordering": order}, first)
        found["order"].append(asked)
        found["deep page"].append(lists.asked(path, order, lists.deep(path, order), asked.milliseconds))
    for name, value in lists.filters(path):
        found["filter"].append(lists.asked(path, f"{name}={value}", {name: value}, first))
    return found


def measures() -> Iterator[Measure]:
    lists = Lists()
    for path in PATHS:
        for kind, asked in all_of(lists, path).items():
            worst = max(asked, key=lambda one: one.ratio, default=None)
            goal = GREATEST_DEEP if kind == "deep page" else GREATEST_FILTER
            for one in asked:
                if one is worst or one.ratio > goal:
                    what = f"{path}: {kind} {one.what}"
                    anchor = f"first page {one.plan}".strip()
                    yield Measure(what, "ms", one.milliseconds, goal, "ratio", one.first, anchor)
    yield from searches()


def searches() -> Iterator[Measure]:
    """Items by a part of their number in the database, as the list asks for it, against a scan with the same answer."""

    number = Item.objects.order_by("pk")[Item.objects.count() // 2].stock_number
    columns = ("stock_number", "description", "maker_part_number", "maker")

    def indexed() -> list[int]:
        keys = rows_with_words(Item, columns, [[number]])
        return list(
            Item.objects.filter(among("pk", keys or []), stock_number__icontains=number).values_list(
                "pk", flat=True
            )
        )

    def scanned() -> list[int]:
        with connection.cursor() as cursor:
            table = "SELECT id FROM inventory_item WHERE UPPER(stock_number) LIKE %s OR UPPER(description) LIKE %s"
            cursor.execute(table, [f"%{number.upper()}%"] * 2)
            return [key for (key,) in cursor.fetchall()]

    if sorted(indexed()) != sorted(scanned()):
        raise SystemExit(f"{number}: the index finds other items than the scan")
    ours, anchor = (min(_seconds(call) for _ in range(TRIES)) * 1000 for call in (indexed, scanned))
    yield Measure(
        "items by a part of a number", "ms", ours, 1 / LEAST_SCANS_SAVED, "ratio", anchor, "unindexed scan"
    )


def _seconds(call: Callable[[], object]) -> float:
    began = time.perf_counter()
    call()
    return time.perf_counter() - began

"""What each answer reads and calculates, counted: steps of the database and calls of Python, not seconds.

    DATABASE_URL=... python -m tests.benchmarks.growth [--json FILE]                    measure the group in this database
    python -m tests.benchmarks.growth --compare SMALL.json LARGE.json                    the growth between two sizes

The question is the same in every synthetic group, so what grows with the plant around it grows for no reason. On SQLite a
step is an instruction of its machine (in hundreds), on PostgreSQL a row that a scan or an index gave.
"""

import argparse
import cProfile
import json
import os
import pstats
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")

import django

GREATEST_GROWTH = 1.5
STEPS_AT_ONCE = 100

QUESTIONS = {
    "substitutes of a position": "/api/v1/positions/QUESTION-1/substitutes/",
    "substitutes of an item": "/api/v1/items/QUESTION-1/substitutes/",
    "exposure of a position": "/api/v1/positions/QUESTION-1/exposure/?item=QUESTION-1",
    "substitute pairs of a drive": "/api/v1/drives/QUESTION/substitute-pairs/",
    "readiness of a job": "/api/v1/work-orders/orders/QUESTION/readiness/",
    "page of a position": "/positions/QUESTION-1/",
    "page of an item": "/items/QUESTION-1/",
    "page of a drive": "/drives/QUESTION/",
    "box, position": "/?q=QUESTION-1",
    "box while typing": "/hits/?q=QUESTION",
    "box, slip": "/?q=QUESTOIN-1",
    "box, word with a slip": "/hits/?q=sprokcet 56B",
    "box, chain and teeth": "/hits/?q=56B 23T",
    "box, chain of many and teeth of none": "/hits/?q=%23100 147T",
    "box, pitch and teeth of none": "/hits/?q=15.875 pitch 147T",
    "items by q, chain and teeth": "/api/v1/items/?q=56B 23T",
    "positions by q, chain and teeth": "/api/v1/positions/?q=56B 23T",
    "items by q": "/api/v1/items/?q=QUESTION-3",
    "positions by q": "/api/v1/positions/?q=QUESTION-1",
    "stock by q": "/api/v1/stock/?q=QUESTION-3",
    "movements by q": "/api/v1/movements/?q=QUESTION-3",
    "requests by q": "/api/v1/requests/?q=QUESTION-1",
    "items, first page": "/api/v1/items/",
    "movements, first page": "/api/v1/movements/",
    "stock, most first": "/api/v1/stock/?ordering=-on_hand",
    "reorder page without policies": "/planning/reorder/",
    "duplicates page": "/planning/duplicates/",
    "decisions page": "/planning/",
}
PREPARED_QUESTIONS = {
    "reorder page": "/planning/reorder/",
    "reorder list": "/api/v1/reorder-list/",
    "reorder list from a place on": "/planning/reorder/?after_room=S002&after_item=0",
    "budget": "/api/v1/stocking/frontier/?budget=1000",
    "budget, what is left out": "/api/v1/stocking/frontier/left-out/?budget=1000&after=4000",
    "budget page": "/planning/budget/?budget=1000",
    "drives of a budget, page": "/planning/budget/drives/?budget=1000&page=8",
    "exposure": "/api/v1/exposure/",
    "exposure from a place on": "/api/v1/exposure/?after=400",
    "exposure page": "/planning/exposure/",
    "exposure page of a storeroom": "/planning/exposure/?storeroom=S001&page=3",
}
"""Asked once policies are written and the answers of the night are stored; all of it is taken back."""


@dataclass(frozen=True)
class Work:
    status: int
    queries: int
    steps: int
    calls: int
    body_bytes: int


class Counter:
    """Counts queries and steps of the default connection while it is open."""

    def __init__(self) -> None:
        self.queries = self.steps = 0

    def note(self) -> int:
        self.steps += 1
        return 0


@contextmanager
def counted() -> Iterator[Counter]:
    from django.db import connection

    counter = Counter()
    connection.ensure_connection()
    before = _rows_read()

    def through(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        counter.queries += 1
        return execute(sql, params, many, context)

    if connection.vendor == "sqlite":
        connection.connection.set_progress_handler(counter.note, STEPS_AT_ONCE)
    try:
        with connection.execute_wrapper(through):
            yield counter
    finally:
        if connection.vendor == "sqlite":
            connection.connection.set_progress_handler(None, 0)
        else:
            counter.steps = _rows_read() - before


def _rows_read() -> int:
    """Rows that scans and indexes of all tables gave so far, those of the open transaction included, on PostgreSQL."""
    from django.db import connection

    if connection.vendor != "postgresql":
        return 0
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_stat_force_next_flush()")
        cursor.execute(
            "SELECT sum(rows) FROM (SELECT seq_tup_read + coalesce(idx_tup_fetch, 0) AS rows FROM pg_stat_user_tables"
            " UNION ALL SELECT seq_tup_read + coalesce(idx_tup_fetch, 0) FROM pg_stat_xact_user_tables) AS every"
        )
        return int(cursor.fetchone()[0] or 0)


def measure(get: Callable[[str], Any], address: str) -> Work:
    """The work of the second call: what a process learns once is not counted."""
    get(address)
    profile = cProfile.Profile()
    with counted() as counter:
        profile.enable()
        response = get(address)
        profile.disable()
    calls = pstats.Stats(profile).total_calls  # type: ignore[attr-defined]
    if response.status_code not in (200, 202):
        raise SystemExit(f"{address} answered {response.status_code}: nothing was measured.")
    body = b"" if response.streaming else response.content
    return Work(response.status_code, counter.queries, counter.steps, calls, len(body))


def followed_failure() -> Work:
    """Of the unit in question, after the last stocking run; nothing of it stays."""
    from django.db import transaction

    from drives.demand.follow_record import follow_record
    from drives.models import Installation
    from tests.benchmarks.recomputing import AT, fail

    for _ in range(2):
        profile = cProfile.Profile()
        with transaction.atomic():
            fail(Installation.objects.get(position__tag="QUESTION-1", removed_at=None))
            with counted() as counter:
                profile.enable()
                advised = follow_record(AT)
                profile.disable()
            transaction.set_rollback(True)
    if not advised:
        raise SystemExit("The failure was left to the next run: nothing was measured.")
    calls = pstats.Stats(profile).total_calls  # type: ignore[attr-defined]
    return Work(200, counter.queries, counter.steps, calls, 0)


def measure_all() -> dict[str, Work]:
    from django.contrib.auth import get_user_model
    from django.db import connection, transaction
    from django.test import Client

    from inventory.models import StockingRun
    from tests.benchmarks.stored_answers import store_answers
    from tests.benchmarks.synthetic_plants import write_policies

    if connection.vendor == "postgresql":
        # Of tables as small as these it would rather read all rows than look up a few; counted is what no index answers.
        with connection.cursor() as cursor:
            cursor.execute("SET enable_seqscan = off")

    user, _ = get_user_model().objects.get_or_create(username="growth", is_superuser=True, is_staff=True)
    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(user)
    found = {name: measure(client.get, address) for name, address in QUESTIONS.items()}
    with transaction.atomic():
        write_policies()
        store_answers()
        found |= {name: measure(client.get, address) for name, address in PREPARED_QUESTIONS.items()}
        transaction.set_rollback(True)
    # A run takes a minute in a large group: what follows it is measured where there was one.
    return found | ({"failure, followed": followed_failure()} if StockingRun.objects.exists() else {})


def growth(small: Work, large: Work) -> float:
    """The worse of steps and calls; few steps are noise of the page cache."""
    return max((large.steps + 50) / (small.steps + 50), large.calls / small.calls)


def compare(small: dict[str, Work], large: dict[str, Work]) -> list[dict[str, Any]]:
    rows = []
    for name, less in small.items():
        more = large[name]
        grown = round(growth(less, more), 2)
        rows.append(
            {
                "what": name,
                "small": asdict(less),
                "large": asdict(more),
                "growth": grown,
                "goal": GREATEST_GROWTH,
                "met": grown <= GREATEST_GROWTH,
            }
        )
    return rows


def read(path: str) -> dict[str, Work]:
    return {name: Work(**work) for name, work in json.loads(Path(path).read_text()).items()}


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--json", type=Path)
    parser.add_argument("--compare", nargs=2, metavar=("SMALL", "LARGE"))
    options = parser.parse_args()
    if options.compare:
        rows = compare(read(options.compare[0]), read(options.compare[1]))
        print(f"{'what':30}{'queries':>14}{'steps':>20}{'calls':>22}{'body':>18}{'growth':>8}  met")
        for row in rows:
            pairs = [
                f"{row['small'][n]:,} {row['large'][n]:,}"
                for n in ("queries", "steps", "calls", "body_bytes")
            ]
            print(
                f"{row['what']:30}{pairs[0]:>14}{pairs[1]:>20}{pairs[2]:>22}{pairs[3]:>18}{row['growth']:>8}  {row['met']}"
            )
        if options.json:
            options.json.write_text(json.dumps(rows, indent=1))
        return 0 if all(row["met"] for row in rows) else 1
    django.setup()
    found = measure_all()
    for name, work in found.items():
        print(f"{name:30} {work}")
    if options.json:
        options.json.write_text(json.dumps({name: asdict(work) for name, work in found.items()}, indent=1))
    return 0


if __name__ == "__main__":
    sys.exit(main())

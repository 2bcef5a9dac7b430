"""What partitions by time cost and save, on a PostgreSQL that may be thrown away and is migrated and empty.

    bash .ci/postgres sh -c "python manage.py migrate && python -m tests.benchmarks.partitions_by_time --movements 200000"

The same movements of ten years lie in one table, in a partition for each year and in one for each quarter; each layout answers
the same questions and takes the same new movements. Times are CPU seconds of the server process. Everything is rolled back.
"""

import argparse
import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")

import django
from django.apps import apps
from django.conf import settings
from django.db import connection, transaction

from tests.benchmarks.measures import Measure
from tests.benchmarks.report import line

MIGRATION = "api.migrations.0011_partition_movements_and_changes"
LEDGER = "inventory_stockentry"
ITEMS, ROOMS, DAYS = 2_000, 20, 3_650
TIMES = 1_000
WRITTEN, MANY_WRITTEN = 2_000, 50_000
PLANNED_MS = 0.3
"""What a question that names no time may cost for each partition: each is planned for and its index descended."""
COLUMNS = (
    "kind, condition, change, balance_after, work_order, position, reason, reference, reason_code, occurred_at, recorded_at, "
    "recorded_by_name, item_id, storeroom_id"
)
FILL = f"""
    INSERT INTO {LEDGER} ({COLUMNS})
    SELECT 'issue', 'new', -1, 5, 'WO-' || number / 2, 'OM-DSP-BC' || number %% 997 || '-D1-DRV', '', 'CMMS:WO-' || number, '',
        now() - (%s - number) * (interval '{DAYS} days' / %s), now() - (%s - number) * (interval '{DAYS} days' / %s),
        'Marta Keller', item.id, room.id
    FROM generate_series(1, %s) AS number
    JOIN (SELECT id, row_number() OVER (ORDER BY id) AS n FROM inventory_item) AS item ON item.n = number * 7919 %% {ITEMS} + 1
    JOIN (SELECT id, row_number() OVER (ORDER BY id) AS n FROM inventory_storeroom) AS room ON room.n = number %% {ROOMS} + 1
    ORDER BY number"""
ONE = f"INSERT INTO {LEDGER} ({COLUMNS}) SELECT {COLUMNS.replace('reference,', '%s,', 1).replace('occurred_at', 'now()')} FROM one"
OF_A_TIME = "sum over one month"
QUESTIONS = {
    "one movement by id": "SELECT * FROM {ledger} WHERE id = {id}",
    "newest page": "SELECT * FROM {ledger} ORDER BY id DESC LIMIT 51",
    "newest of a shelf": (
        "SELECT * FROM {ledger} WHERE item_id = {item} AND storeroom_id = {room} AND condition = 'new' ORDER BY id DESC LIMIT 1"
    ),
    "reversals of one": "SELECT sum(change) FROM {ledger} WHERE reverses_id = {id}",
    "by reference": "SELECT * FROM {ledger} WHERE reference IN ('CMMS:WO-{number}')",
    OF_A_TIME: (
        "SELECT count(*), sum(change) FROM {ledger} WHERE occurred_at >= '2022-03-01' AND occurred_at < '2022-04-01'"
    ),
}


@dataclass(frozen=True)
class Layout:
    name: str
    partitions: int
    bytes_a_movement: float
    seconds_to_write: float
    seconds_to_write_many: float
    seconds: dict[str, float]
    answers: dict[str, Any]


def run(sql: str, *values: Any) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values or None)
        return list(cursor.fetchall()) if cursor.description else []


def server_seconds() -> float:
    """CPU of the server process of this connection."""
    ((pid,),) = run("SELECT pg_backend_pid()")
    parts = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


def seconds_of(work: Callable[[], Any]) -> float:
    began = server_seconds()
    work()
    return server_seconds() - began


def measure(name: str, movements: int) -> Layout:
    run(f"ANALYZE {LEDGER}")
    ((first, last),) = run(f"SELECT min(id), max(id) FROM {LEDGER}")
    ((item, room),) = run(f"SELECT item_id, storeroom_id FROM {LEDGER} WHERE id = %s", (first + last) // 2)
    seconds, answers = {}, {}
    for question, sql in QUESTIONS.items():
        asked = [
            sql.format(
                ledger=LEDGER, id=first + at * (movements - 1) // TIMES, item=item, room=room, number=at + 1
            )
            for at in range(TIMES)
        ]
        answers[question] = [run(one) for one in asked[:20]]
        seconds[question] = seconds_of(lambda asked=asked: [run(one) for one in asked]) / TIMES
    write_one_by_one("WARM", 100)
    size = run(
        "SELECT coalesce(sum(pg_total_relation_size(relid)), pg_total_relation_size(%s)) FROM pg_partition_tree(%s)",
        LEDGER,
        LEDGER,
    )
    parts = run("SELECT count(*) FROM pg_partition_tree(%s) WHERE isleaf", LEDGER)
    kept = run("SELECT coalesce(pg_total_relation_size(to_regclass('inventory_movement_reference')), 0)")
    return Layout(
        name,
        int(parts[0][0]),
        float(size[0][0] + kept[0][0]) / movements,
        seconds_of(write_one_by_one) / WRITTEN,
        seconds_of(write_many) / MANY_WRITTEN,
        seconds,
        answers,
    )


def write_one_by_one(mark: str = "NEW", times: int = WRITTEN) -> None:
    for number in range(times):
        run(ONE, f"{mark}:{number}")
    run("SET CONSTRAINTS ALL IMMEDIATE")
    run("SET CONSTRAINTS ALL DEFERRED")


def write_many() -> None:
    """In one statement, as an import writes; each with a reference of its own."""
    many = (
        ONE.replace("%s,", "'MANY:' || number,") + f" CROSS JOIN generate_series(1, {MANY_WRITTEN}) AS number"
    )
    run(many)


def change_layout(change: Any) -> None:
    with connection.schema_editor(atomic=False) as editor:
        change(apps, editor)


def layouts(movements: int) -> Iterator[Layout]:
    migration = import_module(MIGRATION)
    with transaction.atomic():
        change_layout(migration.join)
        run(FILL, *([movements] * 5))
        run(f"CREATE TEMPORARY TABLE one AS SELECT * FROM {LEDGER} LIMIT 1")
        for name, months in (("whole", None), ("by year", 12), ("by quarter", 3)):
            if months:
                settings.PARTITION_MONTHS = months
                change_layout(migration.split)
            with transaction.atomic():
                yield measure(name, movements)
                transaction.set_rollback(True)
            if months:
                change_layout(migration.join)
        transaction.set_rollback(True)


def make_places() -> None:
    from tests import factories as make

    for number in range(ITEMS):
        make.ItemFactory(stock_number=f"4-{number}")
    for number in range(ROOMS):
        make.StoreroomFactory(code=f"ROOM-{number}")


def measures(movements: int) -> Iterator[Measure]:
    whole, *split = layouts(movements)
    for one in split:
        assert one.answers == whole.answers, f"{one.name} answers otherwise"
        says = f"{one.name} ({one.partitions})"

        def beside(
            what: str,
            unit: str,
            of: Callable[[Layout], float],
            goal: float,
            says: str = says,
            one: Layout = one,
        ) -> Measure:
            return Measure(f"{what}, {says}", unit, of(one), goal, "ratio", of(whole), "one table")

        yield beside("a movement", "bytes", lambda layout: layout.bytes_a_movement, 1.5)
        yield beside("write one", "CPU ms", lambda layout: layout.seconds_to_write * 1e3, 2)
        yield beside("write one of many", "CPU ms", lambda layout: layout.seconds_to_write_many * 1e3, 2)
        for question in QUESTIONS:
            if question == OF_A_TIME:
                yield beside(question, "CPU ms", lambda layout: layout.seconds[OF_A_TIME] * 1e3, 0.5)
                continue
            ours, theirs = (layout.seconds[question] * 1e3 for layout in (one, whole))
            goal = PLANNED_MS * one.partitions
            yield Measure(f"{question}, {says}", "CPU ms", ours, goal, "ours", theirs, "one table")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--movements", type=int, default=200_000)
    options = parser.parse_args()
    django.setup()
    with transaction.atomic():
        make_places()
        for one in measures(options.movements):
            print(line(one), flush=True)
        transaction.set_rollback(True)


if __name__ == "__main__":
    main()

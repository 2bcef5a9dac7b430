"""Partitions by time, on PostgreSQL: a table of rows that only grow is many tables, each of one period.

Which tables are partitioned the database itself says. A partition is prepared before its period begins; until then, and for
rows of a time before the first one, there is the partition for the rest, so that no row is ever refused.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import connection, transaction

PREPARED_FOR = timedelta(days=92)
"""So long the nightly work may fail before rows of a new period meet no partition of their own."""
MOVED_AT_MOST = 100_000
"""Rows of the rest that are moved by themselves: nobody can write while it lasts."""
LOCK_TIMEOUT = "5s"
BOUND = re.compile(r"FROM \('([^']+)'\) TO \('([^']+)'\)")
PARTITIONED = """
    SELECT parent.relname, key.attname
    FROM pg_partitioned_table AS partitioned
    JOIN pg_class AS parent ON parent.oid = partitioned.partrelid
    JOIN pg_attribute AS key ON key.attrelid = parent.oid AND key.attnum = partitioned.partattrs[0]
    WHERE pg_table_is_visible(parent.oid) ORDER BY parent.relname"""
PARTS = """
    SELECT part.relname, pg_get_expr(part.relpartbound, part.oid), greatest(part.reltuples, 0)::bigint,
        pg_total_relation_size(part.oid)
    FROM pg_inherits JOIN pg_class AS part ON part.oid = inhrelid
    WHERE inhparent = to_regclass(%s) ORDER BY part.relname"""


@dataclass(frozen=True, order=True)
class Period:
    begins: datetime
    ends: datetime

    def name(self, table: str) -> str:
        return f"{table}_{self.begins:%Y_%m}"


@dataclass(frozen=True)
class Partition:
    """`period` is None of the rest; `rows` is the estimate of the planner."""

    name: str
    period: Period | None
    rows: int
    bytes: int


def partitioned_tables() -> dict[str, str]:
    """Their names with the column of the time."""
    if connection.vendor != "postgresql":
        return {}
    return dict(_rows(PARTITIONED))


def partitions_of(table: str) -> list[Partition]:
    found = []
    for name, bound, rows, size in _rows(PARTS, table):
        match = BOUND.search(bound)
        period = Period(*map(datetime.fromisoformat, match.groups())) if match else None
        found.append(Partition(name, period, rows, size))
    return found


def period_of(moment: datetime) -> Period:
    """Counted from year 0, so that periods of several years begin alike everywhere too."""
    months = settings.PARTITION_MONTHS
    first = (moment.year * 12 + moment.month - 1) // months * months
    return Period(_month(first), _month(first + months))


def _month(number: int) -> datetime:
    return datetime(number // 12, number % 12 + 1, 1, tzinfo=UTC)


def prepare(table: str, key: str, now: datetime, *, moved_at_most: int = MOVED_AT_MOST) -> list[str]:
    """Create what the next months need and what the rest holds rows of; the names of the new partitions."""
    if not missing_periods(table, key, now, moved_at_most):
        return []
    with transaction.atomic(), _locking_soon():
        # One at a time, and nobody writes between this look at the rest and the move out of it.
        _run(f"LOCK TABLE {table} IN ACCESS EXCLUSIVE MODE")
        periods = missing_periods(table, key, now, moved_at_most)
        return _create(table, key, periods) if periods else []


def missing_periods(table: str, key: str, now: datetime, moved_at_most: int) -> list[Period]:
    moments = [*moments_ahead(now), *_moments_of_rest(table, key, moved_at_most)]
    return free_periods([one.period for one in partitions_of(table) if one.period], moments)


def has_more_in_rest(table: str, rows: int) -> bool:
    ((many,),) = _rows(f"SELECT count(*) FROM (SELECT FROM {rest_of(table)} LIMIT {rows + 1}) AS kept")
    return int(many) > rows


def free_periods(taken: list[Period], moments: list[datetime]) -> list[Period]:
    """The periods of these moments, each cut to what no partition has yet."""
    found: list[Period] = []
    for moment in sorted(moments):
        known = [*taken, *found]
        if any(one.begins <= moment < one.ends for one in known):
            continue
        period = period_of(moment)
        begins = max([period.begins, *(one.ends for one in known if one.ends <= moment)])
        ends = min([period.ends, *(one.begins for one in known if one.begins > moment)])
        found.append(Period(begins, ends))
    return found


def moments_ahead(now: datetime) -> Iterator[datetime]:
    moment = now
    while moment <= now + PREPARED_FOR:
        yield moment
        moment = period_of(moment).ends


def _moments_of_rest(table: str, key: str, moved_at_most: int) -> list[datetime]:
    """One of each month of which the rest holds rows; none where they are too many to be moved now."""
    if has_more_in_rest(table, moved_at_most):
        return []
    month = f"date_trunc('month', {key} AT TIME ZONE 'UTC')"
    return [moment for (moment,) in _rows(f"SELECT min({key}) FROM {rest_of(table)} GROUP BY {month}")]


def rest_of(table: str) -> str:
    return f"{table}_rest"


def _create(table: str, key: str, periods: list[Period]) -> list[str]:
    """Each with its rows of the rest, moved before it is attached: no trigger takes them for new ones."""
    rest, old = rest_of(table), f"{table}_old_rest"
    _run("SET CONSTRAINTS ALL IMMEDIATE")
    _run(f"ALTER TABLE {table} DETACH PARTITION {rest}")
    _run(f"ALTER TABLE {rest} RENAME TO {old}")
    names = []
    for period in periods:
        name = period.name(table)
        span = f"('{period.begins.isoformat()}') TO ('{period.ends.isoformat()}')"
        here = f"{key} >= '{period.begins.isoformat()}' AND {key} < '{period.ends.isoformat()}'"
        _attach(table, name, f"FOR VALUES FROM {span}", f"SELECT * FROM {old} WHERE {here}")
        names.append(name)
    stays = " AND ".join(
        f"({key} < '{one.begins.isoformat()}' OR {key} >= '{one.ends.isoformat()}')" for one in periods
    )
    _attach(table, rest, "DEFAULT", f"SELECT * FROM {old} WHERE {stays}")
    _run(f"DROP TABLE {old}")
    return names


def _attach(table: str, name: str, bound: str, rows: str) -> None:
    _run(f"CREATE TABLE {name} (LIKE {table} INCLUDING ALL EXCLUDING INDEXES EXCLUDING IDENTITY)")
    _run(f"INSERT INTO {name} {rows}")
    _run(f"ALTER TABLE {table} ATTACH PARTITION {name} {bound}")


@contextmanager
def _locking_soon() -> Iterator[None]:
    """Rather tried again the next night than everybody waiting behind a lock that waits."""
    _run(f"SET LOCAL lock_timeout = '{LOCK_TIMEOUT}'")
    yield
    _run("SET LOCAL lock_timeout = DEFAULT")


def _run(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql)


def _rows(sql: str, *values: Any) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values or None)
        return list(cursor.fetchall())

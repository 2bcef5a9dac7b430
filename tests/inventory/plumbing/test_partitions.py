from datetime import UTC, datetime
from importlib import import_module
from io import StringIO
from typing import Any

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

from api.management.commands import partitions as partitions_command
from api.models import Change
from inventory.models import StockEntry
from inventory.plumbing import partitions
from inventory.plumbing.partitions import Period, free_periods, partitions_of, period_of, prepare
from tests import factories as make

MIGRATION = import_module("api.migrations.0011_partition_movements_and_changes")
LEDGER, LOG = "inventory_stockentry", "api_change"
YEARS = range(2019, 2027)


def day(year: int, month: int = 1, number: int = 1) -> datetime:
    return datetime(year, month, number, tzinfo=UTC)


@pytest.mark.parametrize(
    ("months", "begins", "ends"),
    [
        (60, day(2025), day(2030)),
        (12, day(2026), day(2027)),
        (6, day(2026, 7), day(2027)),
        (3, day(2026, 10), day(2027)),
        (1, day(2026, 11), day(2026, 12)),
    ],
)
def test_a_period_begins_and_ends_with_a_month(
    settings: Any, months: int, begins: datetime, ends: datetime
) -> None:
    settings.PARTITION_MONTHS = months
    assert period_of(datetime(2026, 11, 28, 23, 59, tzinfo=UTC)) == Period(begins, ends)


def test_periods_meet_and_never_overlap_whatever_stood_there(settings: Any) -> None:
    settings.PARTITION_MONTHS = 12
    taken = [Period(day(2026), day(2026, 4)), Period(day(2026, 9), day(2026, 10))]
    found = free_periods(taken, [day(2026, 2), day(2026, 6), day(2026, 7), day(2026, 12), day(2025, 5)])
    assert found == [
        Period(day(2025), day(2026)),
        Period(day(2026, 4), day(2026, 9)),
        Period(day(2026, 10), day(2027)),
    ]


def in_postgresql(test: Any) -> Any:
    return pytest.mark.postgresql(pytest.mark.django_db(test))


def run(sql: str, *values: Any) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values or None)
        return list(cursor.fetchall()) if cursor.description else []


def fill(rows_a_year: int = 50) -> None:
    """Receipts of several years, each with a reference, and a reversal of the first."""
    item, room = make.ItemFactory(), make.StoreroomFactory()
    run(
        f"""INSERT INTO {LEDGER} (kind, condition, change, balance_after, work_order, position, reason, reference,
            reason_code, occurred_at, recorded_at, recorded_by_name, item_id, storeroom_id)
        SELECT 'receipt', 'new', 1, 1, '', '', '', 'r' || year || '-' || number, '',
            make_timestamptz(year, 1, 1, 0, 0, 0, 'UTC') + number * interval '7 days', now(), '', %s, %s
        FROM generate_series(%s, %s) AS year, generate_series(0, %s) AS number ORDER BY year, number""",
        *(item.pk, room.pk, YEARS[0], YEARS[-1], rows_a_year - 1),
    )
    run(
        f"INSERT INTO {LOG} (at, by_name, request_id, action, record, key, storeroom, plant, before, after) "
        f"SELECT occurred_at, '', '', 'create', 'x', reference, '', '', '{{}}', '{{}}' FROM {LEDGER}"
    )


def with_editor(change: Any) -> None:
    with connection.schema_editor(atomic=False) as editor:
        change(apps, editor)


def rows_of(table: str) -> list[tuple[Any, ...]]:
    return run(f"SELECT * FROM {table} ORDER BY id")


def counts(table: str) -> dict[str, int]:
    found = {one.name: run(f"SELECT count(*) FROM {one.name}")[0][0] for one in partitions_of(table)}
    return {name: many for name, many in found.items() if many}


@pytest.fixture
def years(db: None, settings: Any) -> dict[str, list[tuple[Any, ...]]]:
    """Filled while the tables were whole, then partitioned."""
    settings.PARTITION_MONTHS = 12
    with_editor(MIGRATION.join)
    fill()
    whole = {table: rows_of(table) for table in (LEDGER, LOG)}
    with_editor(MIGRATION.split)
    return whole


@in_postgresql
def test_a_filled_table_is_split_by_year_and_joined_again(years: dict[str, list[tuple[Any, ...]]]) -> None:
    for table, whole in years.items():
        assert rows_of(table) == whole
        assert counts(table) == {f"{table}_{year}_01": 50 for year in YEARS}
    with_editor(MIGRATION.join)
    assert {table: rows_of(table) for table in years} == years
    assert partitions.partitioned_tables() == {}


@in_postgresql
def test_a_list_of_some_days_reads_the_partition_of_its_year_alone(years: object) -> None:
    for rows, key in ((StockEntry.objects.order_by("-id"), "occurred_at"), (Change.objects.all(), "at")):
        table = rows.model._meta.db_table
        plan = rows.filter(**{f"{key}__gte": day(2021, 3), f"{key}__lt": day(2021, 6)})[:50].explain()
        assert [one.name for one in partitions_of(table) if one.name in plan] == [f"{table}_2021_01"]
    out = StringIO()
    call_command("partitions", stdout=out)
    assert f"{LEDGER} by occurred_at" in out.getvalue()
    assert f"{LOG}_2021_01: 2021-01-01 to 2022-01-01" in out.getvalue()
    assert f"{LOG}_rest: the rest" in out.getvalue()


@in_postgresql
def test_what_was_guaranteed_of_one_table_is_guaranteed_over_all_years(years: object) -> None:
    first = StockEntry.objects.get(reference="r2019-0")
    again = {**vars(first), "id": None, "occurred_at": day(2026, 5)}
    again.pop("_state")
    with pytest.raises(IntegrityError, match="movement_reference_booked_once"), transaction.atomic():
        StockEntry.objects.create(**again)
    assert StockEntry.objects.create(**{**again, "reference": ""}).pk > 400
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        StockEntry.objects.filter(pk=first.pk).update(reason="x")
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        Change.objects.all()[:1].get().delete()
    run("SET CONSTRAINTS ALL IMMEDIATE")
    with pytest.raises(IntegrityError, match="reverses_id"), transaction.atomic():
        StockEntry.objects.create(**{**again, "reference": "", "reverses_id": 10**9})
    StockEntry.objects.create(**{**again, "reference": "", "reverses_id": first.pk})


@in_postgresql
def test_rows_of_no_period_are_taken_and_get_one_at_night(
    years: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = rows_of(LEDGER)
    run(
        f"INSERT INTO {LEDGER} (kind, condition, change, balance_after, work_order, position, reason, reference, reason_code, "
        "occurred_at, recorded_at, recorded_by_name, item_id, storeroom_id) SELECT kind, condition, change, balance_after, "
        "work_order, position, reason, 'old-' || reference, reason_code, occurred_at - interval '20 years', recorded_at, "
        f"recorded_by_name, item_id, storeroom_id FROM {LEDGER} WHERE occurred_at < '2021-01-01' ORDER BY id"
    )
    assert counts(LEDGER)[f"{LEDGER}_rest"] == 100
    after = rows_of(LEDGER)
    now = day(2030, 11, 20)
    assert prepare(LEDGER, "occurred_at", now, moved_at_most=99) == [
        f"{LEDGER}_2030_01",
        f"{LEDGER}_2031_01",
    ]
    monkeypatch.setattr(partitions_command, "MOVED_AT_MOST", 99)
    out = StringIO()
    call_command("partitions", stdout=out)
    assert "More than 99 rows lie in the rest" in out.getvalue()
    assert counts(LEDGER)[f"{LEDGER}_rest"] == 100
    assert prepare(LEDGER, "occurred_at", now) == [f"{LEDGER}_1999_01", f"{LEDGER}_2000_01"]
    assert counts(LEDGER)[f"{LEDGER}_1999_01"] == 50
    assert f"{LEDGER}_rest" not in counts(LEDGER)
    assert rows_of(LEDGER) == after
    assert len(after) == len(before) + 100
    assert prepare(LEDGER, "occurred_at", now) == []
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        run(f"DELETE FROM {LEDGER} WHERE reference LIKE 'old-%%'")


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "sqlite", reason="needs SQLite")
def test_sqlite_keeps_each_table_whole() -> None:
    out = StringIO()
    call_command("partitions", stdout=out)
    assert out.getvalue() == "SQLite has no partitions.\n"

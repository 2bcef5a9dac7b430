"""A file of items and a file of stock imported, against stage and upsert of the same rows in the same database.

As many rows as the group has items (or as IMPORT_ROWS says), all of them new; a transaction takes everything back. The anchor
checks nothing, logs nothing and reads the same file: COPY to a stage and INSERT ... ON CONFLICT on PostgreSQL, one prepared upsert
on SQLite. Sums over what both wrote are compared.
"""

import csv
import io
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from time import perf_counter, process_time
from typing import IO, Any

import numpy as np
from django.db import connection, transaction
from django.db.models import Count, Sum

from api.exchange.run import import_stream
from inventory.models import Item, Specification, Storeroom
from inventory.standards.chains import find_chain
from tests.benchmarks.measures import Measure

ITEM = "stock_number description unit maker maker_part_number unit_cost lead_time_days"
LENGTHS = "pitch_mm roller_diameter_mm inner_width_mm transverse_pitch_mm"
PART = f"kind chain {LENGTHS} strands teeth hub_style bore_mm keyway_width_mm material mass_kg"
CHAINS = [
    chain
    for name in ["06B", "08B", "10B", "12B", "16B", "20B", "08A", "10A", "12A", "16A"]
    if (chain := find_chain(name))
]
BORES = (18, 20, 22, 24, 25, 28, 30, 32, 35, 38, 40, 42, 45, 48, 50, 55, 60)
WRONG_SHARE = 100
MOST_RECEIPTS = 20_000
"""The ledger books them one after another, at a rate that the number of rows does not change."""
MEGABYTE = 1_000_000


def items_file(rows: int, *, wrong: bool = False, seed: int = 1) -> IO[bytes]:
    """Sprockets with skewed attributes; with `wrong` every hundredth row has a bad cell."""
    rng = np.random.default_rng(seed)
    chains = rng.zipf(1.6, rows) % len(CHAINS)
    teeth = np.clip(rng.lognormal(np.log(26), 0.5, rows), 9, 120).astype(int)
    bores, costs, masses = rng.integers(0, len(BORES), rows), rng.gamma(2, 40, rows), rng.gamma(2, 1.5, rows)

    def lines() -> Iterator[list[Any]]:
        for n in range(rows):
            count = "many" if wrong and n % WRONG_SHARE == 50 else teeth[n]
            chain, bore = CHAINS[chains[n]], BORES[bores[n]]
            about = f"Sprocket {chain.designation} {teeth[n]} teeth, bore {bore}"
            item = (
                f"BULK-{n:07d}",
                about,
                "each",
                f"Maker {n % 40}",
                f"M{n * 7:08d}",
                f"{costs[n]:.2f}",
                5 + n % 60,
            )
            lengths = (getattr(chain, name) for name in LENGTHS.split())
            wheel = (1 + n % 3 // 2, count, "B", bore, 8, "carbon_steel", f"{masses[n] + 0.1:.3f}")
            yield [*item, "sprocket", chain.designation, *lengths, *wheel]

    return written(f"{ITEM} {PART}".split(), lines())


def stock_file(rows: int) -> IO[bytes]:
    """One receipt an item of the file of items, in the first storeroom."""
    room = Storeroom.objects.order_by("pk")[0].code
    header = ["reference", "kind", "item", "storeroom", "quantity", "unit_cost", "occurred_at"]
    lines = (
        [f"BULK-{n:07d}", "receipt", f"BULK-{n:07d}", room, 1 + n % 9, "12.50", "2024-01-08T08:00:00+01:00"]
        for n in range(rows)
    )
    return written(header, lines)


def written(header: list[str], lines: Iterator[list[Any]]) -> IO[bytes]:
    file = tempfile.TemporaryFile()  # noqa: SIM115 - it goes with the last who holds it
    text = io.TextIOWrapper(file, encoding="utf-8", newline="", write_through=True)
    writer = csv.writer(text)
    writer.writerow(header)
    writer.writerows(lines)
    text.detach()
    return file


def stage_and_upsert(file: IO[bytes]) -> None:
    """Specifications and items of the file, as a person who knows the database writes them."""
    file.seek(0)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            staged_by_copy(cursor, file)
        else:
            upserted_row_by_row(cursor, file)


ITEM_COLUMNS = f"{ITEM.replace(' ', ', ')}"
PART_COLUMNS = f"{PART.replace('chain', 'chain_designation').replace(' ', ', ')}"
ITEM_DEFAULTS = "currency, stocked, holding_reason, lifecycle, note, created_at, updated_at"
ITEM_DEFAULT_VALUES = "'EUR', true, 'usage', 'active', '', now(), now()"
PART_DEFAULTS = "role_kind, bore_type, key_standard, bush_size, material_grade, created_at, updated_at"
PART_DEFAULT_VALUES = "'', '', '', '', '', now(), now()"
ON_CONFLICT = "ON CONFLICT (stock_number) DO UPDATE SET " + ", ".join(
    f"{name} = excluded.{name}" for name in [*ITEM.split()[1:], "specification_id"]
)


def staged_by_copy(cursor: Any, file: IO[bytes]) -> None:
    cursor.execute(
        f"CREATE TEMP TABLE stage ON COMMIT DROP AS SELECT {', '.join(f'i.{n}' for n in ITEM.split())}, "
        f"{', '.join(f's.{n}' for n in PART_COLUMNS.split(', '))} FROM inventory_item i, inventory_specification s LIMIT 0"
    )
    with cursor.cursor.copy("COPY stage FROM STDIN WITH (FORMAT csv, HEADER)") as copy:
        while chunk := file.read(MEGABYTE):
            copy.write(chunk)
    sequence = "nextval(pg_get_serial_sequence('inventory_specification', 'id'))"
    cursor.execute(f"ALTER TABLE stage ADD COLUMN part bigint DEFAULT {sequence}")
    cursor.execute(
        f"INSERT INTO inventory_specification (id, {PART_COLUMNS}, {PART_DEFAULTS}) "
        f"SELECT part, {PART_COLUMNS}, {PART_DEFAULT_VALUES} FROM stage"
    )
    cursor.execute(
        f"INSERT INTO inventory_item ({ITEM_COLUMNS}, specification_id, {ITEM_DEFAULTS}) "
        f"SELECT {ITEM_COLUMNS}, part, {ITEM_DEFAULT_VALUES} FROM stage {ON_CONFLICT}"
    )
    cursor.execute("DROP TABLE stage")


def upserted_row_by_row(cursor: Any, file: IO[bytes]) -> None:
    cursor.execute("SELECT coalesce(max(id), 0) FROM inventory_specification")
    first = cursor.fetchone()[0] + 1
    text = io.TextIOWrapper(file, encoding="utf-8", newline="")
    rows, width = csv.reader(text), len(ITEM.split())
    next(rows)
    stamps = "datetime('now'), datetime('now')"
    marks = ", ".join("?" * len(PART.split()))
    part = (
        f"INSERT INTO inventory_specification (id, {PART_COLUMNS}, {PART_DEFAULTS}) "
        f"VALUES (?, {marks}, '', '', '', '', '', {stamps})"
    )
    marks = ", ".join("?" * (width + 1))
    item = (
        f"INSERT INTO inventory_item ({ITEM_COLUMNS}, specification_id, {ITEM_DEFAULTS}) "
        f"VALUES ({marks}, 'EUR', true, 'usage', 'active', '', {stamps}) {ON_CONFLICT}"
    )
    raw = cursor.cursor.connection
    while chunk := [row for _, row in zip(range(10_000), rows, strict=False)]:
        raw.executemany(part, [(first + n, *row[width:]) for n, row in enumerate(chunk)])
        raw.executemany(item, [(*row[:width], first + n) for n, row in enumerate(chunk)])
        first += len(chunk)
    text.detach()


@contextmanager
def taken_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def timed(call: Callable[[], Any]) -> tuple[float, float, Any]:
    """Seconds, seconds of this process, and what came of it."""
    began, cpu = perf_counter(), process_time()
    found = call()
    return perf_counter() - began, process_time() - cpu, found


def forget_peak() -> None:
    """From now on the system keeps the peak of this process anew."""
    Path("/proc/self/clear_refs").write_text("5")


def peak_megabytes() -> float:
    (peak,) = (
        line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM")
    )
    return int(peak.split()[1]) / 1000


def imported(kind: str, file: IO[bytes]) -> Any:
    file.seek(0)
    return import_stream(kind, file, name=f"{kind}.csv", by="benchmark")


def totals() -> dict[str, Any]:
    """What the tables hold of the file, as sums."""
    items = Item.objects.filter(stock_number__startswith="BULK-")
    parts = Specification.objects.filter(items__in=items)
    found = items.aggregate(count=Count("pk"), cost=Sum("unit_cost"), days=Sum("lead_time_days"))
    sums = {name: Sum(name) for name in (*LENGTHS.split(), "teeth", "strands", "bore_mm", "mass_kg")}
    return {**found, **{name: round(value, 3) for name, value in parts.aggregate(**sums).items()}}


def checked(result: Any, **counts: int) -> None:
    found = {name: result.counts[name] for name in counts}
    assert found == counts, (found, result.problems, result.row_results[:3])


def measures() -> Iterator[Measure]:
    if not Storeroom.objects.exists():
        raise SystemExit("There is no storeroom to receive into: make a synthetic group first, of any size.")
    count = int(os.environ.get("IMPORT_ROWS", 0)) or Item.objects.count()
    file = items_file(count)
    with taken_back():
        anchor, anchor_cpu, _ = timed(lambda: stage_and_upsert(file))
        staged = totals()
    yield from item_measures(count, file, (anchor, anchor_cpu), staged)
    with taken_back():
        wrong = items_file(count, wrong=True)
        _, _, result = timed(lambda: imported("items", wrong))
        bad = len(range(50, count, WRONG_SHARE))
        assert (result.counts["rejected"], result.written) == (bad, False)
        reported = sum(
            (row.errors[0].column, row.errors[0].fact.code) == ("teeth", "cell_not_number")
            for row in result.row_results
            if row.outcome == "rejected"
        )
    yield Measure(
        "import: bad rows of 1 % that are reported",
        "rows",
        reported,
        1,
        "ratio",
        bad,
        "bad rows",
        at_least=True,
    )


def item_measures(
    count: int, file: IO[bytes], anchor: tuple[float, float], staged: dict[str, Any]
) -> Iterator[Measure]:
    with taken_back():
        forget_peak()
        first, cpu, result = timed(lambda: imported("items", file))
        checked(result, created=count)
        assert totals() == staged, (totals(), staged)
        again, _, result = timed(lambda: imported("items", file))
        checked(result, unchanged=count)
        peak = peak_megabytes()
        receipts = min(count, MOST_RECEIPTS)
        stock = stock_file(receipts)
        booked, _, result = timed(lambda: imported("movements", stock))
        checked(result, created=receipts)
    upsert = "stage and upsert"
    yield Measure("import of items", "s", first, 3, "ratio", anchor[0], upsert)
    if connection.vendor == "sqlite":  # Where the database works in this process.
        yield Measure("import of items, CPU", "s", cpu, 3, "ratio", anchor[1], upsert)
    yield Measure("import of items: the same file again", "s", again, 1, "ratio", first, "first import")
    yield Measure("import of items: rows a second", "rows/s", count / first, 0, "ours", at_least=True)
    yield Measure(
        "import of receipts through the ledger", "rows/s", receipts / booked, 0, "ours", at_least=True
    )
    yield Measure("import: peak memory of the process", "MB", peak, 300, "ours")

"""The kinds of file: their columns, what names a row, and what a row refers to. The order is the order of loading."""

from dataclasses import dataclass, field, replace

from django.db import models

import api.wire.records  # noqa: F401 - every record is declared there
from api.wire import cells
from api.wire.columns import columns_of
from api.wire.declaration import Column, WireRecord, wire_records
from api.wire.records.items import ITEMS
from api.wire.records.movements import MOST_PIECES, MOVEMENTS
from api.wire.records.specifications import BESIDE_ITEM, SPECIFICATIONS
from inventory.models import StockEntry


@dataclass(frozen=True)
class FileTable:
    """One kind of file. `key` names the columns that tell one row from another."""

    kind: str
    model: type[models.Model]
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    specification: tuple[Column, ...] = field(default=())
    may_lack: frozenset[str] = frozenset()
    """Columns of the key that a file need not have."""

    @property
    def every_column(self) -> tuple[Column, ...]:
        return self.columns + self.specification

    @property
    def csv_name(self) -> str:
        return f"{self.kind}.csv"

    @property
    def xlsx_name(self) -> str:
        return f"{self.kind}.xlsx"

    @property
    def names_successors(self) -> bool:
        """Whether rows may refer to rows of the same file."""
        return any(column.lookup and column.lookup.in_file for column in self.columns)


def table_of(record: WireRecord) -> FileTable:
    beside = columns_of(replace(SPECIFICATIONS, file=BESIDE_ITEM)) if record is ITEMS else ()
    return FileTable(record.path, record.model, record.key_fields, columns_of(record), beside)


LOADED = sorted(
    (record for record in wire_records() if record.file),
    key=lambda record: record.file.order if record.file else 0,
)
MOVEMENT = table_of(MOVEMENTS)
OPENING_BALANCES = FileTable(
    "opening-balances",
    StockEntry,
    ("item", "storeroom", "condition"),
    tuple(
        {
            "quantity": Column("quantity", "quantity", cells.Whole(0, MOST_PIECES), required=True),
            "counted_at": Column("counted_at", "counted_at", cells.moment),
        }.get(name)
        or next(column for column in MOVEMENT.columns if column.name == name)
        for name in [
            "item",
            "storeroom",
            "condition",
            "bin",
            "quantity",
            "piece_links",
            "unit_cost",
            "counted_at",
        ]
    ),
    may_lack=frozenset({"condition"}),
)
"""What lies on the shelves when a plant begins."""


def tables_in_order() -> dict[str, FileTable]:
    found: dict[str, FileTable] = {}
    for record in LOADED:
        if record is MOVEMENTS:
            found[OPENING_BALANCES.kind] = OPENING_BALANCES
        found[record.path] = table_of(record)
    return found


TABLES = tables_in_order()
MESSAGE_KINDS = ("work-orders", "parts-used", "meter-readings")
"""Messages of the work-order feed, which may wait for what they name."""
KINDS = (*TABLES, *MESSAGE_KINDS)
"""Every kind, in the order in which files that refer to each other are loaded."""

"""Reading of the tables beside this module: rows as text or as values, and source titles."""

import csv
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, get_type_hints

Row = TypeVar("Row")
TABLES = Path(__file__).parent / "tables"

CONFIRMED = frozenset({"confirmed", "found", "found on trade pages", "derived", "computed"})
"""Confidence words that mean: read in a source, or calculated from figures read in a source."""


@cache
def table_rows(name: str) -> tuple[dict[str, str], ...]:
    with (TABLES / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return tuple(csv.DictReader(file))


@cache
def _titles() -> dict[str, str]:
    return {row["code"]: row["title"] for row in table_rows("sources")}


def source_titles(codes: str) -> str:
    """Titles of the published documents behind the source codes of a row."""
    return "; ".join(_titles()[code] for code in codes.split(";"))


def optional_number(text: str) -> float | None:
    return float(text) if text else None


def words(text: str) -> tuple[str, ...]:
    """Entries of a cell, separated by semicolons."""
    return tuple(part.strip() for part in text.split(";") if part.strip())


READERS: dict[Any, Callable[[str], Any]] = {
    float: float,
    int: int,
    float | None: optional_number,
    int | None: lambda text: int(text) if text else None,
    str | None: lambda text: text or None,
    bool: lambda text: text == "yes",
    tuple[str, ...]: words,
    frozenset[str]: lambda text: frozenset(words(text)),
}


def value_of_row(kind: type[Row], row: dict[str, str], **given: Any) -> Row:
    """A dataclass from a row: each field that is not given is the cell of its name, read by the field's type."""
    cells = {name: row[name] for name in _hints(kind) if name not in given}
    read = {name: READERS.get(_hints(kind)[name], str)(cell) for name, cell in cells.items()}
    return kind(**read | {"source": source_titles(row["source"])} | given)


@cache
def _hints(kind: type[Any]) -> dict[str, Any]:
    return get_type_hints(kind)

"""Reading of the tables beside this module: rows as text or as values, and source titles."""

import csv
from collections.abc import Callable
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from inventory.standards.confidence import KIND_OF_WORD, SourceKind

Row = TypeVar("Row")
TABLES = Path(__file__).parent / "tables"

CONFIRMED = frozenset(
    word for word, kind in KIND_OF_WORD.items() if kind in (SourceKind.SEEN, SourceKind.COMPUTED)
)
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


def value_of_row(kind: type[Row], row: dict[str, str], /, **given: Any) -> Row:
    """A dataclass from a row: each field that is not given is the cell of its name, read by the field's type."""
    missing = [one for one in fields(kind) if one.name not in given]  # type: ignore[arg-type]
    read = {one.name: READERS.get(one.type, str)(row[one.name]) for one in missing}
    return kind(**read | {"source": source_titles(row["source"])} | given)

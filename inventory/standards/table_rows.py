"""Reading of the tables beside this module: text rows, optional numbers, and source titles."""

import csv
from functools import cache
from pathlib import Path

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

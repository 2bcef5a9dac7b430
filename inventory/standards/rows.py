"""Reading of the tables beside this module: text rows, optional numbers, and source titles."""

import csv
from functools import cache
from pathlib import Path

TABLES = Path(__file__).parent / "tables"

CONFIRMED = frozenset({"confirmed", "found", "found on trade pages", "derived", "computed"})
"""Confidence words that mean: read in a source, or calculated from figures read in a source."""


@cache
def table_rows(name: str) -> tuple[dict[str, str], ...]:
    """Rows of one table as text, in file order.

    Parameters
    ----------
    name : str
        Name of the table without its ending, for example ``"chains"``.

    Returns
    -------
    tuple of dict
        One mapping of column name to text per row.

    Examples
    --------
    >>> table_rows("chains")[4]["designation"]
    '08A'
    """
    with (TABLES / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return tuple(csv.DictReader(file))


@cache
def _titles() -> dict[str, str]:
    return {row["code"]: row["title"] for row in table_rows("sources")}


def source_titles(codes: str) -> str:
    """Titles of the published documents behind a row.

    Parameters
    ----------
    codes : str
        Source codes separated by semicolons.

    Returns
    -------
    str
        Titles in the same order, separated by semicolons.

    Raises
    ------
    KeyError
        If a code has no title in the table of sources.

    Examples
    --------
    >>> source_titles("GOST-A")
    'ISO 606:1994 text as in GOST 13568-97, mandatory annex A, table A.1'
    """
    return "; ".join(_titles()[code] for code in codes.split(";"))


def optional_number(text: str) -> float | None:
    """Number in a cell, or nothing where the cell is empty.

    Parameters
    ----------
    text : str
        Cell of a table.

    Returns
    -------
    float or None
        The number, in the unit that the column name gives.

    Examples
    --------
    >>> optional_number("7.92"), optional_number("")
    (7.92, None)
    """
    return float(text) if text else None


def words(text: str) -> tuple[str, ...]:
    """Entries of a cell that lists several, separated by semicolons.

    Parameters
    ----------
    text : str
        Cell of a table, may be empty.

    Returns
    -------
    tuple of str
        Entries without surrounding space.

    Examples
    --------
    >>> words("a; b")
    ('a', 'b')
    """
    return tuple(part.strip() for part in text.split(";") if part.strip())

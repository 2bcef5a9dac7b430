"""Lists with a row for each drive: `Driver teeth` and `Driven teeth` are the teeth of two positions."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

from api.exchange.mapping.plain_words import plain
from api.exchange.mapping.units import rows_of
from api.exchange.mapping.untidy import RawRow, RawTable
from api.wire.cells import Cell

SIDE = "side"
"""The heading under which each row says which of the two it is."""
SIDES = ("driver", "driven")


@cache
def words_of_sides() -> dict[str, str]:
    rows = [row for row in rows_of("words") if row["column"] == "role" and row["word"] in SIDES]
    return {plain(written): row["word"] for row in rows for written in row["written"].split("|")}


def side_named(cell: Cell) -> Cell:
    """`DRIVER` for `treibend`; any other word as it is."""
    return words_of_sides().get(plain(str(cell)), str(cell)).upper() if cell else cell


def without_side(heading: str) -> tuple[str, str]:
    """The heading without the word of its side, and the side; `Shaft driver` is the shaft of the driver."""
    words = heading.split()
    found = [(at, words_of_sides().get(plain(word))) for at, word in enumerate(words)]
    sides = [(at, side) for at, side in found if side]
    if len(words) < 2 or len(sides) != 1:
        return heading, ""
    ((at, side),) = sides
    return " ".join(words[:at] + words[at + 1 :]).strip(" -_/,:"), str(side)


def sides_of(raw: RawTable, is_known: Callable[[str], bool]) -> dict[str, dict[str, str]]:
    """The headings of each side by what both are called without it; empty where the rows are not of two sides."""
    found: dict[str, dict[str, str]] = {}
    for heading in raw.headings:
        bare, side = without_side(heading)
        if side:
            found.setdefault(bare, {}).setdefault(side, heading)
    both = {bare: one for bare, one in found.items() if len(one) == len(SIDES) and bare not in raw.headings}
    return both if SIDE not in raw.headings and any(map(is_known, both)) else {}


def table_of_side(raw: RawTable, sides: dict[str, dict[str, str]], side: str) -> RawTable:
    """The rows as the position of that side is described in them."""
    other = next(one for one in SIDES if one != side)
    named = {one[side]: bare for bare, one in sides.items()}
    gone = {one[other] for one in sides.values()}
    kept = [at for at, heading in enumerate(raw.headings) if heading not in gone]
    headings = tuple(named.get(raw.headings[at], raw.headings[at]) for at in kept)
    rows = tuple(RawRow(row.line, (*(row.cells[at] for at in kept), side.upper())) for row in raw.rows)
    return replace(raw, headings=(*headings, SIDE), rows=rows)


def split_by_side(raw: RawTable, is_known: Callable[[str], bool]) -> tuple[RawTable, ...]:
    """A table for each side, or the one table as it is."""
    sides = sides_of(raw, is_known)
    return tuple(table_of_side(raw, sides, side) for side in SIDES) if sides else (raw,)

"""Units as people write them, from `tables/units.csv`."""

import csv
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path

TABLES = Path(__file__).parent / "tables"


@dataclass(frozen=True)
class WrittenUnit:
    """`factor` makes a number of it one of `canonical`, in which a column is kept."""

    name: str
    canonical: str
    factor: Decimal


def rows_of(name: str) -> list[dict[str, str]]:
    with (TABLES / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@cache
def written_units() -> dict[str, WrittenUnit]:
    return {
        written: WrittenUnit(row["unit"], row["canonical"], Decimal(row["factor"]))
        for row in rows_of("units")
        for written in row["written"].split("|")
    }


def unit_of(text: str) -> WrittenUnit | None:
    return written_units().get(" ".join(text.split()).casefold())


SUFFIXES = ("mm", "kw", "rpm", "kg", "c", "minutes", "hours", "days", "percent")


def canonical_of(column: str) -> str:
    """The unit in which a column of that name is kept; empty where it has none."""
    last = column.rpartition("_")[2]
    if column in ("quantity", "counted", "teeth", "strands", "links", "set_screws"):
        return "pieces"
    return last if last in SUFFIXES and last != column else "minutes" if column == "minutes" else ""


CURRENCY = re.compile(r"[\s,/(\[]*(?:€|£|\$|EUR|GBP|USD|CHF)[\])]?\s*$")
BRACKETED = re.compile(r"[\[(]\s*([^\])]*?)\s*[\])]\s*$")
BEHIND = re.compile(r"(?:,|\bin|/)\s*(\S+)\s*$|\s(\S+)\s*$", re.IGNORECASE)


def unit_in_heading(heading: str) -> tuple[str, WrittenUnit | None]:
    """The heading without its unit, and the unit: `Bohrung [mm]`, `Bore, in`, `Power kW`."""
    heading = CURRENCY.sub("", heading).strip()
    if (unit := unit_of(heading)) and unit.canonical in ("kw", "rpm"):
        return heading, unit
    found = BRACKETED.search(heading)
    if found and (unit := unit_of(found[1])):
        return heading[: found.start()].strip(), unit
    found = BEHIND.search(heading)
    if found and (unit := unit_of(found[1] or found[2])) and unit.name not in ("piece", "m", "d", "g", "h"):
        return heading[: found.start()].strip(" ,"), unit
    return heading, None

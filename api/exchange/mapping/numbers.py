"""Numbers as people write them: with either decimal mark, and with their unit in the cell or in the heading."""

import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation

from api.exchange.mapping.misfit import Misfit
from api.exchange.mapping.units import WrittenUnit, canonical_of, unit_of, written_units
from api.wire.cells import Cell

SPACES = re.compile(r"(?<=[0-9])[   '’](?=[0-9]{3})")
FRACTION = re.compile(r"(?:[0-9]+\s*[- ]\s*)?[0-9]+/[0-9]+")
WITH_UNIT = re.compile(
    r"(?P<number>[-+]?[0-9][0-9.,/ '’  -]*?)\s*(?P<unit>[^0-9\s.,][^0-9]*|\"|'')\.?", re.DOTALL
)
PLAIN = {"point": re.compile(r"[-+]?(?:[0-9]{1,3}(?:,[0-9]{3})+|[0-9]+)(?:\.[0-9]+)?|[-+]?\.[0-9]+"),
         "comma": re.compile(r"[-+]?(?:[0-9]{1,3}(?:\.[0-9]{3})+|[0-9]+)(?:,[0-9]+)?|[-+]?,[0-9]+")}  # fmt: skip
MONEY = re.compile(r"^\s*(?:€|£|\$|EUR|GBP|USD|CHF)\s*|\s*(?:€|£|\$|EUR|GBP|USD|CHF|,-)\s*$", re.IGNORECASE)
BEFORE_TEETH = re.compile(r"^(?:z\s*=?\s*|t\s*=\s*)(?=[0-9])", re.IGNORECASE)
BEHIND_TEETH = re.compile(r"(?<=[0-9])\s*-?\s*(?:z|t|zähne|zaehne|teeth|tooth|dientes)\.?$", re.IGNORECASE)
SHARED_UNITS = ("minutes", "hours", "days")
HOURS_TO = {
    ("hours", "minutes"): Decimal(60),
    ("days", "hours"): Decimal(24),
    ("days", "minutes"): Decimal(1440),
}


def parted(cell: Cell, column: str) -> tuple[str, WrittenUnit | None]:
    """The number as it is written, and the unit that the cell says."""
    if isinstance(cell, int | Decimal) and not isinstance(cell, bool):
        return format(Decimal(cell), "f"), None
    if not isinstance(cell, str):
        raise Misfit
    text = cell.strip().replace("−", "-")
    if column == "teeth":
        text = BEHIND_TEETH.sub("", BEFORE_TEETH.sub("", text))
    if column.endswith(("cost", "price", "per_hour")):
        text = MONEY.sub("", text)
    found = WITH_UNIT.fullmatch(text)
    if found is None:
        return text, None
    unit = unit_of(found["unit"])
    if unit is None:
        raise Misfit
    return found["number"].strip(), unit


def decimal_text(text: str, mark: str) -> Decimal:
    compact = SPACES.sub("", text.strip())
    if not PLAIN[mark].fullmatch(compact):
        raise Misfit
    thousands, point = (",", ".") if mark == "point" else (".", ",")
    try:
        return Decimal(compact.replace(thousands, "").replace(point, "."))
    except InvalidOperation as error:
        raise Misfit from error


def number(cell: Cell, column: str, mark: str, stated: WrittenUnit | None, places: int | None = None) -> str:
    """The number in the unit of the column, rounded to its places where that had to be calculated."""
    text, unit = parted(cell, column)
    unit, canonical = unit or stated, canonical_of(column)
    found = decimal_text(text, "point" if not isinstance(cell, str) else mark)
    factor = factor_to(unit, canonical) if unit is not None else Decimal(1)
    if factor != 1:
        found = round(found * factor, places) if places is not None else found * factor
    return written(found)


def factor_to(unit: WrittenUnit, canonical: str) -> Decimal:
    if unit.canonical == canonical:
        return unit.factor
    if (unit.canonical, canonical) in HOURS_TO:
        return unit.factor * HOURS_TO[unit.canonical, canonical]
    raise Misfit


def written(found: Decimal) -> str:
    rounded = round(found, 9).normalize()
    return format(rounded, "f")


def length(cell: Cell, column: str, mark: str, bare: WrittenUnit) -> str:
    """A length with its unit: what the cell says, else `bare`. Inches stay inches, so that fractions stay exact."""
    text, unit = parted(cell, column)
    unit = unit or bare
    if unit.canonical != "mm":
        raise Misfit
    if FRACTION.fullmatch(text):
        # A fraction is of inches, whatever the heading says: `1-7/16`.
        return f"{text} in"
    found = decimal_text(text, "point" if not isinstance(cell, str) else mark)
    return f"{written(found)} in" if unit.name == "in" else f"{written(found * unit.factor)} mm"


def length_units(stated: WrittenUnit | None) -> Sequence[WrittenUnit]:
    """The units that a bare number of the column may have."""
    return (stated,) if stated else (written_units()["mm"], written_units()["in"])

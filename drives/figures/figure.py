"""A figure with its rows."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.facts import Fact
from inventory.models import Item

ZERO = Decimal(0)


@dataclass(frozen=True, kw_only=True)
class FigureRow:
    """One case; what does not belong to it is empty or None."""

    reasons: tuple[Fact, ...]
    item: str = ""
    storeroom: str = ""
    position: str = ""
    drive: str = ""
    work_order: str = ""
    pieces: int | None = None
    value: Decimal | None = None
    currency: str = ""
    on: date | None = None


@dataclass(frozen=True, kw_only=True)
class CurrencyValue:
    currency: str
    value: Decimal


@dataclass(frozen=True, kw_only=True)
class Figure:
    """`count` cases, one a row. `of` is out of how many; None: no share is meant, or nothing was there to count."""

    name: str
    meaning: Fact
    count: int
    of: int | None = None
    values: tuple[CurrencyValue, ...] = ()
    """Of all rows together, by currency."""
    rows_without_value: int = 0
    """Of rows that ought to have one: no price is known."""
    rows: tuple[FigureRow, ...] = ()
    notes: tuple[Fact, ...] = ()

    @property
    def share(self) -> float | None:
        return self.count / self.of if self.of else None


def valued(
    meaning: Fact, rows: Iterable[FigureRow], *, of: int | None = None, notes: Iterable[Fact] = ()
) -> Figure:
    """A figure of money: the most expensive rows first."""
    found = sorted(rows, key=lambda row: (-(row.value or ZERO), row.item, row.storeroom))
    sums: dict[str, Decimal] = {}
    for row in found:
        if row.value is not None:
            sums[row.currency] = sums.get(row.currency, ZERO) + row.value
    return Figure(
        name=name_of(meaning),
        meaning=meaning,
        count=len(found),
        of=of,
        values=tuple(CurrencyValue(currency=code, value=sums[code]) for code in sorted(sums)),
        rows_without_value=sum(row.value is None for row in found),
        rows=tuple(found),
        notes=tuple(notes),
    )


def name_of(meaning: Fact) -> str:
    return meaning.code.removeprefix("figure_")


def worth(item: Item, pieces: int) -> Decimal | None:
    """At the unit cost of the item; None where it has none."""
    return None if item.unit_cost is None else item.unit_cost * pieces

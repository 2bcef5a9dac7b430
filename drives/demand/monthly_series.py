"""The plant's own record for a back-test: pieces asked for per item, storeroom and month, months without a demand included."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import numpy as np

from drives.models import Request
from inventory.array_checks import FloatArray
from inventory.models import Item
from inventory.models.access_scope import in_storerooms
from inventory.models.item import Unit


@dataclass(frozen=True, slots=True)
class SeriesItem:
    """One row of the record: an item as one storeroom is asked for it."""

    stock_number: str
    storeroom: str
    unit_cost: Decimal | None
    currency: str


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Askings that are no row of the record, and why."""

    planned: int = 0
    in_links: int = 0
    without_item: int = 0
    in_the_present_month: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class DemandSeries:
    """`pieces` has a row for each of `items` and a column for each of `months`, given by their first day."""

    items: tuple[SeriesItem, ...]
    months: tuple[date, ...]
    pieces: FloatArray
    left_out: LeftOut


@dataclass(frozen=True, slots=True)
class _Asking:
    item: SeriesItem
    month: int
    pieces: int


def monthly_series(*, until: datetime, storeroom_id: int | None = None) -> DemandSeries:
    """Pieces asked for in every month of the record, in the time zone of the storeroom that was asked.

    The record runs from the month of the first asking to that of the last one, or to the last month that had ended
    by `until`. A substitute given stands for what was asked for; planned askings and chain by the link are left out.
    One query.
    """
    rows = in_storerooms(Request.objects.standing().until(until))
    if storeroom_id is not None:
        rows = rows.filter(storeroom_id=storeroom_id)
    left_out: Counter[str] = Counter()
    askings = list(_askings(rows.select_related("item", "issued_item", "storeroom"), until, left_out))
    items = tuple(
        sorted({asking.item for asking in askings}, key=lambda one: (one.storeroom, one.stock_number))
    )
    first = min((asking.month for asking in askings), default=0)
    last = max((asking.month for asking in askings), default=-1)
    row_of = {item: row for row, item in enumerate(items)}
    pieces = np.zeros((len(items), last - first + 1))
    for asking in askings:
        pieces[row_of[asking.item], asking.month - first] += asking.pieces
    months = tuple(date(month // 12, month % 12 + 1, 1) for month in range(first, last + 1))
    return DemandSeries(items, months, pieces, LeftOut(**left_out))


def _askings(rows: Iterable[Request], until: datetime, left_out: Counter[str]) -> Iterable[_Asking]:
    for row in rows:
        asked, zone = row.item or row.issued_item, ZoneInfo(row.storeroom.timezone)
        reason = _reason_to_leave_out(row, asked, ends=_month(until, zone), month=_month(row.at, zone))
        if reason or asked is None:
            left_out[reason] += 1
            continue
        item = SeriesItem(asked.stock_number, row.storeroom.code, asked.unit_cost, asked.currency)
        yield _Asking(item, _month(row.at, zone), row.quantity)


def _reason_to_leave_out(row: Request, asked: Item | None, *, ends: int, month: int) -> str:
    if asked is None:
        return "without_item"
    if row.is_planned:
        return "planned"
    if asked.unit != Unit.EACH:
        return "in_links"
    return "in_the_present_month" if month >= ends else ""


def _month(moment: datetime, zone: ZoneInfo) -> int:
    """Months since the year 0."""
    local = moment.astimezone(zone)
    return local.year * 12 + local.month - 1

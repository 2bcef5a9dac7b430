"""The plant's own record for a back-test: pieces requested per item, storeroom and month, months without demand included."""

from collections import Counter
from collections.abc import Mapping
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
    """One row of the record: an item in one storeroom."""

    stock_number: str
    storeroom: str
    unit_cost: Decimal | None
    currency: str


@dataclass(frozen=True, slots=True)
class LeftOutRequests:
    """Requests that are in no row of the record, by reason."""

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
    left_out: LeftOutRequests


def monthly_series(*, until: datetime, storeroom_id: int | None = None) -> DemandSeries:
    """Pieces requested in every month of the record, in the storeroom's time zone; one query.

    The record runs from the month of the first request to that of the last, or to the last month that had ended by `until`.
    A substitute counts for the item requested; planned requests and chain by the link are left out.
    """
    rows = in_storerooms(Request.objects.standing().until(until))
    if storeroom_id is not None:
        rows = rows.filter(storeroom_id=storeroom_id)
    left_out: Counter[str] = Counter()
    requested: Counter[tuple[SeriesItem, int]] = Counter()
    for row in rows.select_related("item", "issued_item", "storeroom"):
        item, zone = row.item or row.issued_item, ZoneInfo(row.storeroom.timezone)
        month = _month(row.at, zone)
        reason = _reason_to_leave_out(row, item, is_complete=month < _month(until, zone))
        if reason or item is None:
            left_out[reason] += 1
        else:
            series_item = SeriesItem(item.stock_number, row.storeroom.code, item.unit_cost, item.currency)
            requested[series_item, month] += row.quantity
    return _series(requested, LeftOutRequests(**left_out))


def _series(requested: Mapping[tuple[SeriesItem, int], int], left_out: LeftOutRequests) -> DemandSeries:
    items = sorted({item for item, _ in requested}, key=lambda one: (one.storeroom, one.stock_number))
    first = min((month for _, month in requested), default=0)
    last = max((month for _, month in requested), default=-1)
    row_of = {item: row for row, item in enumerate(items)}
    pieces = np.zeros((len(items), last - first + 1))
    for (item, month), count in requested.items():
        pieces[row_of[item], month - first] = count
    months = tuple(date(month // 12, month % 12 + 1, 1) for month in range(first, last + 1))
    return DemandSeries(tuple(items), months, pieces, left_out)


def _reason_to_leave_out(row: Request, item: Item | None, *, is_complete: bool) -> str:
    if item is None:
        return "without_item"
    if row.is_planned:
        return "planned"
    if item.unit != Unit.EACH:
        return "in_links"
    return "" if is_complete else "in_the_present_month"


def _month(moment: datetime, zone: ZoneInfo) -> int:
    """Months since the year 0."""
    local = moment.astimezone(zone)
    return local.year * 12 + local.month - 1

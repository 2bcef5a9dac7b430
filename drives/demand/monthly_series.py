"""The plant's own record for a back-test: pieces requested per item, storeroom and month, months without demand included."""

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from drives.demand.demand_events import source_of
from drives.demand.record_start import RecordDays, load_set_starts
from drives.models import RecordSource, Request
from inventory.array_checks import FloatArray
from inventory.catalogue.plant_practice import current_demand_settings
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
    before_the_record: int = 0
    in_the_present_month: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class DemandSeries:
    """`pieces` has a row for each of `items` and a column for each of `months`, given by their first day.

    `begins` says for each item at which of the months the record of its storeroom begins: earlier ones are not known.
    """

    items: tuple[SeriesItem, ...]
    months: tuple[date, ...]
    pieces: FloatArray
    begins: npt.NDArray[np.int64]
    left_out: LeftOutRequests


def monthly_series(*, until: datetime, storeroom_id: int | None = None) -> DemandSeries:
    """Pieces requested in every month of the record, in the storeroom's time zone; three queries.

    The record of a storeroom runs from the month in which that of its requests begins, by `record_start`; all end with the month of
    the last request, or with the last month that had ended by `until`. A substitute counts for the item requested; planned
    requests and chain by the link are left out.
    """
    chosen = in_storerooms(Request.objects.standing().until(until))
    if storeroom_id is not None:
        chosen = chosen.filter(storeroom_id=storeroom_id)
    rows = list(chosen.select_related("item", "issued_item", "storeroom"))
    starts = _starts(rows, until)
    left_out: Counter[str] = Counter()
    requested: Counter[tuple[SeriesItem, int]] = Counter()
    for row in rows:
        item, zone = row.item or row.issued_item, ZoneInfo(row.storeroom.timezone)
        reason = _reason_to_leave_out(row, item, starts[row.storeroom_id], _month(until, zone))
        if reason or item is None:
            left_out[reason] += 1
        else:
            series_item = SeriesItem(item.stock_number, row.storeroom.code, item.unit_cost, item.currency)
            requested[series_item, _month(row.at, zone)] += row.quantity
    begins = {
        row.storeroom.code: _month(starts[row.storeroom_id], ZoneInfo(row.storeroom.timezone)) for row in rows
    }
    return _series(requested, begins, LeftOutRequests(**left_out))


def _starts(rows: Collection[Request], until: datetime) -> dict[int, datetime]:
    """Of the record of requests in each storeroom."""
    days = RecordDays(until, load_set_starts(), current_demand_settings())
    for row in rows:
        source = source_of(row.reference, RecordSource.REQUESTS)
        days.add_moment(row.storeroom_id, row.at, source, is_sprocket=True)
    return {room: days.start(room, is_sprocket=True).at for room in {row.storeroom_id for row in rows}}


def _series(
    requested: Mapping[tuple[SeriesItem, int], int], begins: Mapping[str, int], left_out: LeftOutRequests
) -> DemandSeries:
    items = sorted({item for item, _ in requested}, key=lambda one: (one.storeroom, one.stock_number))
    first = min((begins[item.storeroom] for item in items), default=0)
    last = max((month for _, month in requested), default=-1)
    row_of = {item: row for row, item in enumerate(items)}
    pieces = np.zeros((len(items), last - first + 1))
    for (item, month), count in requested.items():
        pieces[row_of[item], month - first] = count
    months = tuple(date(month // 12, month % 12 + 1, 1) for month in range(first, last + 1))
    begin = np.array([begins[item.storeroom] - first for item in items], dtype=np.int64)
    return DemandSeries(tuple(items), months, pieces, begin, left_out)


def _reason_to_leave_out(row: Request, item: Item | None, begin: datetime, present: int) -> str:
    if item is None:
        return "without_item"
    if row.is_planned:
        return "planned"
    if item.unit != Unit.EACH:
        return "in_links"
    if row.at < begin:
        return "before_the_record"
    is_complete = _month(row.at, ZoneInfo(row.storeroom.timezone)) < present
    return "" if is_complete else "in_the_present_month"


def _month(moment: datetime, zone: ZoneInfo) -> int:
    """Months since the year 0."""
    local = moment.astimezone(zone)
    return local.year * 12 + local.month - 1

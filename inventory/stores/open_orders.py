"""What is on order of an item, for when, and how late it is."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from inventory.facts import Fact, fact
from inventory.models import SupplyOrder
from inventory.models.access_scope import in_storerooms


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenOrder:
    """`overdue_days` are those since the promised day; 0 until then, None where no day is promised."""

    source: str
    external_id: str
    storeroom: str
    pieces: int
    """Still to come."""
    ordered_on: date
    promised_on: date | None
    overdue_days: int | None

    @property
    def reason(self) -> Fact:
        order = {"order": self.external_id, "pieces": self.pieces, "storeroom": self.storeroom}
        if self.promised_on is None:
            return fact("on_order_without_date", **order, ordered_on=self.ordered_on.isoformat())
        promised = {**order, "promised_on": self.promised_on.isoformat()}
        if self.overdue_days:
            return fact("on_order_overdue", **promised, overdue_days=self.overdue_days)
        return fact("on_order_for_day", **promised)


def open_orders(item_ids: Iterable[int], at: datetime) -> Mapping[int, tuple[OpenOrder, ...]]:
    """Of these items, in the storerooms that the caller may see: the first promised first; one query."""
    found: dict[int, list[OpenOrder]] = defaultdict(list)
    rows = in_storerooms(SupplyOrder.objects.open()).filter(item_id__in=list(item_ids))
    for row in rows.select_related("storeroom").order_by("promised_on", "ordered_at", "pk"):
        if row.outstanding:
            found[row.item_id].append(_open_order(row, at))
    return {item: tuple(sorted(orders, key=_when)) for item, orders in found.items()}


def _open_order(row: SupplyOrder, at: datetime) -> OpenOrder:
    """Days by the calendar of the storeroom."""
    zone = ZoneInfo(row.storeroom.timezone)
    late = None if row.promised_on is None else max((at.astimezone(zone).date() - row.promised_on).days, 0)
    return OpenOrder(
        source=row.source,
        external_id=row.external_id,
        storeroom=row.storeroom.code,
        pieces=row.outstanding,
        ordered_on=row.ordered_at.astimezone(zone).date(),
        promised_on=row.promised_on,
        overdue_days=late,
    )


def _when(order: OpenOrder) -> tuple[bool, date]:
    return order.promised_on is None, order.promised_on or order.ordered_on

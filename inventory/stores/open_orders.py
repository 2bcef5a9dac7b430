"""What is on order of an item, for when, and how late it is."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from inventory.facts import Fact, fact
from inventory.models import SupplyOrder
from inventory.plumbing.joint_statement import Parameters, Question, Row, answers, moment_of


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
    put = Parameters()
    return orders_of(answers(SupplyOrder, put, {"orders": orders_question(put, item_ids)})["orders"], at)


def orders_question(put: Parameters, item_ids: Iterable[int]) -> Question:
    return Question(
        (
            *("o.item_id", "o.source", "o.external_id", "r.code", "r.timezone"),
            *("o.quantity - o.received_quantity", "o.ordered_at", "o.promised_on", "o.id"),
        ),
        "FROM inventory_supplyorder o JOIN inventory_storeroom r ON r.id = o.storeroom_id WHERE o.status = 'open' "
        f"AND o.quantity > o.received_quantity AND o.item_id IN {put.put_all(item_ids)}{put.in_scope('o.storeroom_id')}",
    )


def orders_of(rows: Iterable[Row], at: datetime) -> Mapping[int, tuple[OpenOrder, ...]]:
    """Of the rows of `orders_question`."""
    found: dict[int, list[OpenOrder]] = defaultdict(list)
    for row in sorted(rows, key=lambda row: (row[7] is None, row[7] or "", moment_of(row[6]), row[8])):
        found[row[0]].append(_open_order(row, at))
    return {item: tuple(sorted(orders, key=_when)) for item, orders in found.items()}


def _open_order(row: Row, at: datetime) -> OpenOrder:
    """Days by the calendar of the storeroom."""
    _, source, external_id, storeroom, timezone, pieces, ordered_at, promised, _ = row
    zone = ZoneInfo(timezone)
    promised_on = None if promised is None else date.fromisoformat(promised)
    late = None if promised_on is None else max((at.astimezone(zone).date() - promised_on).days, 0)
    return OpenOrder(
        source=source,
        external_id=external_id,
        storeroom=storeroom,
        pieces=pieces,
        ordered_on=moment_of(ordered_at).astimezone(zone).date(),
        promised_on=promised_on,
        overdue_days=late,
    )


def _when(order: OpenOrder) -> tuple[bool, date]:
    return order.promised_on is None, order.promised_on or order.ordered_on

"""A line that needs somebody, with the act or the page that settles it, and the section it stands in."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from django.db.models import F, QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from api.edge.scope import visible_to_caller
from api.screens.page_filters import unit_label
from inventory.models import Item, SupplyOrder

SHOWN = 5
SOON = timedelta(days=30)
MakeLine = Callable[[Any], "Line"]


@dataclass(frozen=True)
class Line:
    """`name` leads to `address`; `act` is what settles it, at its own address."""

    name: str
    address: str
    text: str
    act: str = ""
    act_address: str = ""


@dataclass(frozen=True)
class Section:
    title: str | Promise
    count: int
    lines: tuple[Line, ...]
    all_address: str = ""
    term: str = ""
    """Where the page of help explains its figures."""

    @property
    def left_out(self) -> int:
        return self.count - len(self.lines)


def section(title: str | Promise, rows: QuerySet[Any], line: MakeLine, all_address: str = "") -> Section:
    """Of the rows that the caller may see."""
    visible = visible_to_caller(rows)
    first = list(visible[: SHOWN + 1])
    count = len(first) if len(first) <= SHOWN else visible.count()
    return Section(title, count, tuple(line(row) for row in first[:SHOWN]), all_address)


def section_of(title: str | Promise, rows: Sequence[Any], line: MakeLine, all_address: str = "") -> Section:
    """Of rows that were found already."""
    return Section(title, len(rows), tuple(line(row) for row in rows[:SHOWN]), all_address)


def list_address(name: str, **query: str) -> str:
    return f"{reverse('screens:list', args=[name])}?{urlencode(query)}"


def act_address(name: str, **asked: Any) -> str:
    said = {key: value for key, value in asked.items() if value not in (None, "")}
    return f"{reverse('screens:act', args=[name])}?{urlencode({**said, 'then': '/'})}"


def item_link(item: Item) -> tuple[str, str]:
    return item.stock_number, reverse("screens:item", args=[item.stock_number])


def words(*parts: Any) -> str:
    return " · ".join(str(part) for part in parts if part)


def amount_of(item: Item, quantity: int) -> str:
    return f"{quantity} {unit_label(item.unit, quantity)}"


def day_of(day: date | None) -> str:
    return date_format(day, "DATE_FORMAT") if day else ""


def moment_of(at: datetime) -> str:
    return date_format(timezone.localtime(at), "DATETIME_FORMAT")


def orders_due(day: date) -> QuerySet[SupplyOrder]:
    """Promised by that day and not all there."""
    rows = SupplyOrder.objects.open().filter(promised_on__lte=day, received_quantity__lt=F("quantity"))
    return rows.select_related("item", "storeroom").order_by("promised_on", "pk")


def delivery_line(order: SupplyOrder) -> Line:
    to_come = order.quantity - order.received_quantity
    promised = day_of(order.promised_on)
    return Line(
        *item_link(order.item),
        words(
            promised, amount_of(order.item, to_come), order.external_id, order.supplier, order.storeroom.code
        ),
        _("Check and receive"),
        reverse("screens:delivery", args=[order.pk]),
    )

"""The buyer's list: what is to be ordered now and what is on order, late first, by supplier; the same as a file."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from itertools import islice
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import F
from django.http import HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from api.edge.auth import caller_name
from api.edge.csv_writing import csv_file
from api.edge.scope import visible_to_caller
from api.screens.acts import carry_out
from api.screens.planning.list_filters import ListFilters, list_filters_of
from api.screens.planning.ordering import LONGEST_SUPPLIER, entered_by, given_in, order_or_take_back
from api.screens.planning.planning_tags import may_decide_of
from inventory.models import Storeroom, SupplyOrder
from inventory.planning.reorder_list import ORDER, ReorderLine, reorder_lines

MOST_LINES = 300
COLUMNS = [
    *("seller", "what", "order", "item", "description", "maker_part_number", "storeroom", "quantity", "unit"),
    *("promised_on", "days_late", "lead_time_days", "unit_price", "amount", "currency"),
]


@dataclass
class Seller:
    """Whom to ask: the supplier, or the maker where none is recorded; without a name neither is."""

    name: str
    to_order: list[ReorderLine] = field(default_factory=list)
    on_order: list["AwaitedOrder"] = field(default_factory=list)

    @property
    def sums(self) -> list[tuple[str, Decimal]]:
        """Expected cost of what is to be ordered, by currency."""
        found: dict[str, Decimal] = defaultdict(Decimal)
        for line in self.to_order:
            found[line.item.currency] += line.expected_cost or Decimal(0)
        return sorted((currency, total) for currency, total in found.items() if total)

    @property
    def late(self) -> int:
        return sum(one.days_late > 0 for one in self.on_order)


@dataclass(frozen=True)
class AwaitedOrder:
    order: SupplyOrder
    days_late: int

    @property
    def to_come(self) -> int:
        return self.order.quantity - self.order.received_quantity

    @property
    def price(self) -> Decimal | None:
        own: Decimal | None = self.order.unit_price
        return self.order.item.unit_cost if own is None else own

    @property
    def currency(self) -> str:
        order = self.order
        return str(order.item.currency if order.unit_price is None else order.currency)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def buying(request: HttpRequest) -> HttpResponse:
    """The list; the form of a line is opened by its address (`item`, `room`)."""
    sent = carry_out(request, order_or_take_back, is_allowed=may_decide_of(request))
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    filters = list_filters_of(request.GET, storerooms)
    if sent.is_done:
        return redirect(reverse("screens:buying") + filters.address())
    today = timezone.localdate()
    lines = list(islice(_to_order(filters, storerooms, today), MOST_LINES + 1))
    orders = list(islice(_open_orders(filters, today), MOST_LINES + 1))
    sellers = _by_seller(lines[:MOST_LINES], orders[:MOST_LINES])
    context = {
        "filters": filters,
        "storerooms": storerooms,
        "sellers": sellers,
        "late": sum(one.late for one in sellers),
        "is_cut": len(lines) > MOST_LINES or len(orders) > MOST_LINES,
        "own_orders": entered_by(caller_name(request), [one.order for one in orders[:MOST_LINES]]),
        "now": timezone.now(),
        "sent": sent,
        "longest": LONGEST_SUPPLIER,
        **_opened(sent.form if sent.faults else request.GET, sellers, is_sent=bool(sent.faults)),
    }
    return render(request, "planning/buying.html", context, status=sent.status)


def _opened(form: QueryDict, sellers: list[Seller], *, is_sent: bool) -> dict[str, object]:
    """The line whose form is open, as it was typed or with what the list says."""
    named = (form.get("item", ""), form.get("room", ""))
    for seller in sellers:
        for line in seller.to_order:
            if (line.item.stock_number, line.storeroom.code) == named:
                listed = {"quantity": str(line.quantity), "supplier": seller.name}
                return {"opened": line, "given": given_in(form if is_sent else listed)}
    return {"opened": None}


@require_safe
@login_required
def buying_file(request: HttpRequest) -> HttpResponseBase:
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    filters = list_filters_of(request.GET, storerooms)
    today = timezone.localdate()
    sellers = _by_seller(_to_order(filters, storerooms, today), _open_orders(filters, today))
    return csv_file("to-buy.csv", COLUMNS, _file_rows(sellers))


def _to_order(filters: ListFilters, storerooms: list[Storeroom], today: date) -> Iterator[ReorderLine]:
    room = next((room for room in storerooms if room.code == filters.storeroom), None)
    return (line for line in reorder_lines(today=today, storeroom=room) if line.action == ORDER)


def _open_orders(filters: ListFilters, today: date) -> Iterator[AwaitedOrder]:
    """The latest first; without a promised day last."""
    rows = visible_to_caller(SupplyOrder.objects.open().filter(received_quantity__lt=F("quantity")))
    if filters.storeroom:
        rows = rows.filter(storeroom__code=filters.storeroom)
    ordered = rows.select_related("item", "storeroom").order_by(F("promised_on").asc(nulls_last=True), "pk")
    for order in ordered:
        yield AwaitedOrder(order, max((today - order.promised_on).days, 0) if order.promised_on else 0)


def _by_seller(lines: Iterable[ReorderLine], orders: Iterable[AwaitedOrder]) -> list[Seller]:
    """Where something is late first, then by name; what has no name last."""
    found: dict[str, Seller] = {}
    to_order = list(lines)
    suppliers = _suppliers([line.item.pk for line in to_order])
    for line in to_order:
        name = suppliers.get(line.item.pk) or line.item.maker
        found.setdefault(name, Seller(name)).to_order.append(line)
    for one in orders:
        name = one.order.supplier or one.order.item.maker
        found.setdefault(name, Seller(name)).on_order.append(one)
    return sorted(found.values(), key=lambda one: (not one.late, not one.name, one.name.casefold()))


def _suppliers(items: list[int]) -> dict[int, str]:
    """By item, who had its newest order that names one."""
    orders = SupplyOrder.objects.filter(item__in=items).exclude(supplier="")
    return dict(orders.order_by("ordered_at", "pk").values_list("item_id", "supplier"))


def _file_rows(sellers: list[Seller]) -> Iterator[list[Any]]:
    for seller in sellers:
        for line in seller.to_order:
            item, cost = line.item, line.expected_cost
            yield [
                *(seller.name, _("to order"), "", item.stock_number, item.description),
                *(item.maker_part_number, line.storeroom.code, line.quantity, item.unit, None, None),
                *(item.lead_time_days, item.unit_cost, cost, item.currency),
            ]
        for one in seller.on_order:
            order, item, price = one.order, one.order.item, one.price
            yield [
                *(seller.name, _("on order"), order.external_id, item.stock_number, item.description),
                *(item.maker_part_number, order.storeroom.code, one.to_come, item.unit),
                *(order.promised_on, one.days_late or None, item.lead_time_days, price),
                *(None if price is None else price * one.to_come, one.currency),
            ]

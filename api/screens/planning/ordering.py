"""The buyer says that a line is ordered, or that it was not after all: each is the message that purchasing would send."""

from collections.abc import Collection, Mapping
from typing import Any

from django.http import HttpRequest, QueryDict
from django.utils import timezone
from django.utils.translation import gettext as _

from api.edge.auth import caller_name
from api.edge.change_log import names_of
from api.edge.scope import visible_to_caller
from api.models import Change
from api.screens.acts import Done, Fault, FieldsRefused, number_of
from api.screens.own_api import Answer, change, read
from inventory.facts import Refusal, fact
from inventory.models import SupplyOrder

FIELDS = ("external_id", "quantity", "promised_on", "supplier")
LONGEST_SUPPLIER = 80
LONGEST = 200
"""Of what is sent on: what is too long for its column is refused by its name, not cut."""
ADDRESS = "supply-order-detail"
FIRST_SOURCE = "purchasing"
KEPT = [
    "item",
    "storeroom",
    "supplier",
    "quantity",
    "ordered_at",
    "promised_on",
    "emergency",
    "unit_price",
    "currency",
]
"""Of an order that is taken back."""


def order_or_take_back(request: HttpRequest, form: QueryDict) -> Done:
    """The line of the order offers to take it back."""
    return Done(_take_back(request, key) if (key := form.get("order")) else _order(request, form))


def given_in(form: Mapping[str, str]) -> dict[str, str]:
    return {name: " ".join(form.get(name, "").replace("\0", "").split())[:LONGEST] for name in FIELDS}


def _order(request: HttpRequest, form: QueryDict) -> str:
    given, now = given_in(form), timezone.now().isoformat()
    number = given["external_id"]
    if not number:
        raise FieldsRefused(("external_id", _("Give the number of the order.")))
    named = {"source": _source(), "external_id": number}
    standing = read(request, ADDRESS, {}, **named)  # type: ignore[arg-type]
    if standing.is_done and not _is_taken_back(standing.body, form):
        said = _("Order {number} is on record already: give the line a number of its own.")
        raise FieldsRefused(("external_id", said.format(number=number)))
    body = {
        "item": form.get("item", ""),
        "storeroom": form.get("room", ""),
        "quantity": number_of(given["quantity"]),
        "promised_on": given["promised_on"] or None,
        "supplier": given["supplier"],
        "ordered_at": now,
        "updated_at": now,
    }
    _send(request, body, named)
    return _("On order: {quantity} × {item} by {number}.").format(**body, number=number)


def _is_taken_back(order: Mapping[str, Any], form: QueryDict) -> bool:
    """The same line may be ordered again under its number."""
    same = (order["item"], order["storeroom"]) == (form.get("item"), form.get("room"))
    return same and order["status"] == "cancelled"


def _take_back(request: HttpRequest, key: str) -> str:
    order = visible_to_caller(SupplyOrder.objects.open()).filter(pk=number_of(key)).first()
    if order is None or order.pk not in entered_by(caller_name(request), [order]):
        raise Refusal(fact("no_such_record", kind="supply order", name=key[:LONGEST]))
    named = {"source": order.source, "external_id": order.external_id}
    standing = read(request, ADDRESS, {}, **named).body  # type: ignore[arg-type]
    kept = {name: standing[name] for name in KEPT if standing[name] is not None}
    _send(request, {**kept, "status": "cancelled", "updated_at": timezone.now().isoformat()}, named)
    return _("Order {number} is taken back.").format(number=order.external_id)


def entered_by(name: str, orders: Collection[SupplyOrder]) -> set[int]:
    """Of these, what that person alone recorded, by the change log, and of which nothing came: what purchasing sent is its own."""
    names = names_of(SupplyOrder, [order.pk for order in orders if not order.received_quantity])
    waiting = {name: pk for pk, (name, _storeroom, _plant) in names.items()}
    changes = Change.objects.filter(record=SupplyOrder._meta.label_lower, key__in=waiting)
    by: dict[str, set[str]] = {}
    for key, who in changes.values_list("key", "by_name"):
        by.setdefault(key, set()).add(who)
    return {waiting[key] for key, whos in by.items() if whos == {name}}


def _source() -> str:
    """As purchasing calls itself, so that its own message brings this order up to date and makes no second one."""
    known = visible_to_caller(SupplyOrder.objects.order_by("-ordered_at", "-pk"))
    return known.values_list("source", flat=True).first() or FIRST_SOURCE


def _send(request: HttpRequest, body: dict[str, Any], named: dict[str, str]) -> None:
    answer = change(request, ADDRESS, body, "", method="PUT", **named)  # type: ignore[arg-type]
    if not answer.is_done:
        raise FieldsRefused(*_faults(answer))


def _faults(answer: Answer) -> list[Fault]:
    rows = answer.body.get("errors") or [{"pointer": "", "detail": answer.body["detail"]}]
    names = [row["pointer"].strip("/") for row in rows]
    return [(name if name in FIELDS else "", row["detail"]) for name, row in zip(names, rows, strict=True)]

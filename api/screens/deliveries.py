"""Deliveries at the door: the open orders, the check of one delivery, and what became of it."""

import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.db.models import F, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from api.answers.core_input import core_object
from api.answers.deliveries import RELEASE, SEND_BACK, UNDO, record_delivery, settle
from api.answers.receiving import DeliveredSerializer
from api.edge.auth import STOCK_ROLES, roles_of
from api.edge.scope import visible_to_caller
from api.screens.counter.acts import go_on
from api.screens.counter.forms import LONGEST_PIECE_LINKS, PIECE_LINKS, links_of
from api.screens.identify import QUESTIONS, typed_value
from api.screens.reports import report
from api.wording.sentences import sentence, stored_sentences
from inventory.facts import Fact, Refusal
from inventory.identification.readings import Readings
from inventory.identification.receiving import CheckedSize
from inventory.models import DeliveryCheck, DeliveryOutcome, MovementKind, SupplyOrder, Unit
from inventory.stores.deliveries import (
    LONGEST_REASON,
    LONGEST_REFERENCE,
    IncomingDelivery,
    Judged,
    check_of_order,
    judge,
    refuse_not_open,
)

PAGE_SIZE, HELD_SHOWN, LONGEST_NUMBER, LONGEST_QUERY = 50, 50, 20, 60
TITLES = {
    DeliveryOutcome.PASSES.value: gettext_lazy("It is what was ordered"),
    DeliveryOutcome.SOMETHING_ELSE.value: gettext_lazy("It is something else"),
    DeliveryOutcome.DOUBTFUL.value: gettext_lazy("It is not certain"),
}
COUNTED = {"teeth": gettext_lazy("Teeth"), "strands": gettext_lazy("Rows of teeth")}
MOST_NAMED = 6
KEYWAY = gettext_lazy("Width of the keyway")


@dataclass(frozen=True)
class DeliveryQuestion:
    """One box of the form; `unit` is empty for a count, `reason` says what it decides."""

    name: str
    label: str | Promise
    help: str | Promise
    reason: str = ""
    unit: str = ""
    typed: str = ""


@dataclass(frozen=True)
class OrderFilters:
    q: str = ""
    page: int = 1

    def address(self, **changes: object) -> str:
        return "?" + urlencode({"q": self.q, **changes})


@require_safe
@login_required
def deliveries(request: HttpRequest) -> HttpResponse:
    """Open orders, the first promised first, and what lies on hold; what names no open order is searched for everywhere."""
    text = request.GET.get("q", "").replace("\0", "").strip()[:LONGEST_QUERY]
    orders = visible_to_caller(SupplyOrder.objects.open()).filter(quantity__gt=F("received_quantity"))
    if text:
        named = Q(external_id__icontains=text) | Q(item__stock_number__icontains=text)
        orders = orders.filter(named | Q(supplier__icontains=text))
    rows = orders.select_related("item", "storeroom").order_by(F("promised_on").asc(nulls_last=True), "id")
    held = visible_to_caller(DeliveryCheck.objects.filter(held_quantity__gt=0)).select_related(
        "order", "item", "storeroom"
    )
    page = Paginator(rows, PAGE_SIZE).get_page(request.GET.get("page", "")[:6])
    if text and not page.object_list:
        # The box has the cursor, so that any scan may end in it.
        return redirect(f"{reverse('screens:home')}?{urlencode({'q': text})}")
    context = {
        "filters": OrderFilters(text, page.number),
        "page": page,
        "held": held.order_by("-checked_at", "-id")[:HELD_SHOWN],
    }
    return render(request, "screens/deliveries.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def delivery(request: HttpRequest, key: int) -> HttpResponse:
    """The check of a delivery for one order; what was typed stays in the address until it is booked."""
    rows = SupplyOrder.objects.select_related("item__specification", "storeroom")
    order = visible_to_caller(rows).filter(pk=key).first()
    if order is None:
        raise Http404
    if request.method == "POST" and not may_book(request):
        raise PermissionDenied
    form = DeliveryForm(request, order)
    if request.method == "POST" and form.delivery is not None:
        try:
            recorded = record_delivery(form.delivery)
        except Refusal as refusal:
            field = "piece_links" if refusal.field == "pieces" else refusal.field or "quantity"
            form.faults = [(field, sentence(refusal.fact))]
        else:
            _report_recorded(request, recorded.check)
            return go_on(request, reverse("screens:delivery_check", args=[recorded.check.pk]))
    status = 409 if request.method == "POST" and form.faults else 200
    return render(request, "screens/delivery.html", form.context(), status=status)


def _report_recorded(request: HttpRequest, check: DeliveryCheck) -> None:
    """The line that says what was booked, with its undo."""
    words = (
        _("Received {n} × {item} for {order}.")
        if check.received_quantity
        else _("{n} × {item} for {order} are on hold.")
    )
    said = words.format(n=check.quantity, item=check.item.stock_number, order=check.order.external_id)
    booked = check.movements.order_by("pk").first()
    report(request, said, f"movement-reverse:{booked.pk}" if booked else "")


def may_book(request: HttpRequest) -> bool:
    return bool(roles_of(request) & set(STOCK_ROLES))


class DeliveryForm:
    """What was typed, what is wrong with it, and the verdict on it."""

    def __init__(self, request: HttpRequest, order: SupplyOrder) -> None:
        self.request, self.order = request, order
        known = check_of_order(order)
        self.not_measured = known if isinstance(known, Fact) else None
        self.check = None if isinstance(known, Fact) else known[1]
        sent = request.POST if request.method == "POST" else request.GET
        self.sizes = [one.measurement for one in self.check.measure] if self.check else []
        counts = ["teeth", "strands"] if self.check else []
        self.typed = {
            name: sent.get(name, "").replace("\0", "").strip()[:LONGEST_NUMBER]
            for name in ("quantity", *counts, *self.sizes)
        }
        self.is_in_links = order.item.unit == Unit.LINK
        if self.is_in_links:
            self.typed["piece_links"] = sent.get("piece_links", "").replace("\0", "")[:LONGEST_PIECE_LINKS]
        self.wrong = sent.get("wrong", "").replace("\0", "").strip()[:LONGEST_REASON]
        self.reference = sent.get("reference", "").replace("\0", "")[:LONGEST_REFERENCE]
        self.faults: list[tuple[str, str]] = []
        self.judged: Judged | None = None
        self.delivery = self._read() if "quantity" in sent else None

    def _read(self) -> IncomingDelivery | None:
        """The delivery, or None with its faults: one bad box hides no other."""
        quantity = self.typed["quantity"]
        if not (quantity.isascii() and quantity.isdigit() and int(quantity) > 0):
            said = (
                _("Links: give a whole number, 1 or more.")
                if self.is_in_links
                else _("Pieces: give a whole number, 1 or more.")
            )
            self.faults.append(("quantity", said))
        readings, pieces = self._readings(), self._pieces()
        if self.faults:
            return None
        made = IncomingDelivery(
            order=self.order,
            quantity=int(quantity),
            readings=readings,
            pieces=pieces,
            wrong=self.wrong,
            reference=self.reference,
            by=self.request.user,  # type: ignore[arg-type]
        )
        try:
            self.judged = judge(self.order, readings, self.wrong)
            if not self.reference:
                refuse_not_open(self.order, made.quantity)
        except Refusal as refusal:
            field = "teeth" if refusal.field == "delivered" else refusal.field
            self.faults.append((field, sentence(refusal.fact)))
            return None
        return made

    def _pieces(self) -> tuple[int, ...]:
        try:
            return tuple(links_of(self.typed.get("piece_links", "")))
        except ValueError as fault:
            self.faults.append(("piece_links", str(fault)))
            return ()

    def _readings(self) -> Readings | None:
        texts = {name: text for name, text in self.typed.items() if text and name != "quantity"}
        if not texts or self.check is None:
            return None
        body = DeliveredSerializer(data={name: typed_value(name, text) for name, text in texts.items()})
        if not body.is_valid():
            self.faults += [(name, f"{label_of(name)}: {said[0]}") for name, said in body.errors.items()]
            return None
        try:
            return core_object(Readings, body.validated_data)
        except Refusal as refusal:
            self.faults.append((refusal.field, sentence(refusal.fact)))
            return None

    def questions(self) -> Iterator[DeliveryQuestion]:
        for name in ("teeth", "strands"):
            if name in self.typed:
                asked = QUESTIONS[name]
                yield DeliveryQuestion(name, asked.label, asked.help, typed=self.typed[name])
        for size in self.check.measure if self.check else ():
            yield self._question(size)

    def _question(self, size: CheckedSize) -> DeliveryQuestion:
        name = size.measurement
        help_text = QUESTIONS[name].help if name in QUESTIONS and name != "bore_mm" else ""
        return DeliveryQuestion(
            name, label_of(name), help_text, sentence(size.reason), unit="mm", typed=self.typed[name]
        )

    def context(self) -> dict[str, object]:
        judged = None if self.faults else self.judged
        hidden = {**self.typed, "wrong": self.wrong, "reference": f"page-{secrets.token_hex(12)}"}
        return {
            "order": self.order,
            "check": self.check,
            "not_measured": self.not_measured,
            "is_open": bool(self.order.outstanding),
            "questions": list(self.questions()),
            "quantity": self.typed["quantity"],
            "is_in_links": self.is_in_links,
            "piece_links": self.typed.get("piece_links", ""),
            "piece_links_label": PIECE_LINKS,
            "longest_piece_links": LONGEST_PIECE_LINKS,
            "pieces": self.delivery.quantity if self.delivery else 0,
            "wrong": self.wrong,
            "longest_reason": LONGEST_REASON,
            "faults": self.faults,
            "to_fill": self.faults[0][0] if self.faults else "" if judged else "quantity",
            "judged": judged,
            "title": TITLES[judged.outcome] if judged else "",
            "reasons": [sentence(one) for one in judged.reasons] if judged else [],
            "could_be": named(judged.could_be) if judged else "",
            "passes": judged is not None and judged.outcome == DeliveryOutcome.PASSES,
            "hidden": list(hidden.items()),
            "may_book": may_book(self.request),
        }


def label_of(name: str) -> str:
    return str(KEYWAY if name == "keyway_width_mm" else QUESTIONS[name].label if name in QUESTIONS else name)


def named(chains: Sequence[str]) -> str:
    """Nothing where the readings leave so many that the names help nobody."""
    return ", ".join(chains) if len(chains) <= MOST_NAMED else ""


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def delivery_check(request: HttpRequest, key: int) -> HttpResponse:
    """A recorded check: where its pieces are, and what may be done with those on hold."""
    rows = DeliveryCheck.objects.select_related("order", "item", "storeroom")
    check = visible_to_caller(rows).filter(pk=key).first()
    if check is None:
        raise Http404
    faults: list[tuple[str, str]] = []
    if request.method == "POST":
        if not may_book(request):
            raise PermissionDenied
        faults = settled_or_why_not(request, check)
        if not faults:
            return go_on(request, reverse("screens:delivery_check", args=[check.pk]))
    return render(
        request,
        "screens/delivery_check.html",
        context_of(request, check, faults),
        status=409 if faults else 200,
    )


def settled_or_why_not(request: HttpRequest, check: DeliveryCheck) -> list[tuple[str, str]]:
    said = {
        name: request.POST.get(name, "").replace("\0", "").strip() for name in ("act", "quantity", "reason")
    }
    if request.POST.get("seen") != seen_of(check):
        return [("settle", changed_since(check))]
    if said["act"] not in (RELEASE, SEND_BACK, UNDO):
        return [("settle", _("Choose what to do with the pieces."))]
    count = said["quantity"]
    if said["act"] != UNDO and not (count.isascii() and count.isdigit() and len(count) <= LONGEST_NUMBER):
        return [("quantity", _("Pieces: give a whole number, 1 or more."))]
    if not said["reason"]:
        return [("reason", _("Give a reason: who decided it, and by what."))]
    try:
        settle(check, said["act"], int(count or 0), reason=said["reason"], by=request.user)  # type: ignore[arg-type]
    except Refusal as refusal:
        return [(refusal.field or "settle", sentence(refusal.fact))]
    _report_settled(request, check, said["act"], count)
    return []


def _report_settled(request: HttpRequest, check: DeliveryCheck, act: str, count: str) -> None:
    """A release has its undo; what left the books comes back by a check of what is at the door."""
    if act == RELEASE:
        moved = check.movements.filter(kind=MovementKind.TRANSFER, reverses__isnull=True).latest("pk")
        said, undone_by = _("Released {n} × {item}."), f"movement-reverse:{moved.pk}"
    elif act == SEND_BACK:
        said, undone_by = _("Sent back {n} × {item}. That is not undone: check them in again."), ""
    else:
        said, undone_by = _("The receipt of {item} is reversed. That is not undone: check it in again."), ""
    report(request, said.format(n=count, item=check.item.stock_number), undone_by)


def changed_since(check: DeliveryCheck) -> str:
    """Who clicked twice reads what the first click did."""
    text = _(
        "This delivery has changed since the page was shown: {held} on hold, {received} received, {sent_back} sent back. "
        "Where you clicked twice, the first click did that and the second one nothing."
    )
    counts = {"held": check.held_quantity, "received": check.received_quantity}
    return text.format(**counts, sent_back=check.sent_back_quantity)


def seen_of(check: DeliveryCheck) -> str:
    """What a page shows of a delivery, so that the same act sent twice is done once."""
    return f"{check.held_quantity}-{check.received_quantity}-{check.sent_back_quantity}"


def context_of(
    request: HttpRequest, check: DeliveryCheck, faults: list[tuple[str, str]]
) -> dict[str, object]:
    return {
        "check": check,
        "title": TITLES[check.outcome],
        "reasons": stored_sentences(check.reasons),
        "could_be": named(check.could_be),
        "read": [
            (COUNTED.get(name) or label_of(name), value, name.endswith("_mm"))
            for name, value in check.delivered.items()
        ],
        "is_held": check.held_quantity > 0,
        "may_undo": check.outcome == DeliveryOutcome.PASSES and check.received_quantity > 0,
        "may_book": may_book(request),
        "seen": seen_of(check),
        "typed": request.POST,
        "faults": faults,
        "longest_reason": LONGEST_REASON,
    }

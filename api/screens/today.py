"""What needs somebody today: short lists by role, every line with the act or the page that settles it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.db.models import F, QuerySet
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.edge.scope import visible_to_caller
from api.screens.counter.acts import may_book_of
from api.screens.planning.planning_tags import may_decide_of
from drives.models import Installation, Position, WorkOrder, WorkOrderStatus
from drives.models.feed import InboundMessage, MessageOutcome
from inventory.models import (
    CountTask,
    FitQuestion,
    Importance,
    Item,
    Recommendation,
    RecommendationState,
    Reservation,
    StockEntry,
    Storeroom,
    SupplyOrder,
)

SHOWN = 5
SOON = timedelta(days=30)


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

    @property
    def left_out(self) -> int:
        return self.count - len(self.lines)


def todays_sections(request: HttpRequest) -> list[Section]:
    """Those with something in them: of the office for who decides, of the counter for who books."""
    today = timezone.localdate()
    found: Iterable[Section] = ()
    if may_decide_of(request):
        found = _office(today)
    elif may_book_of(request):
        found = _counter(today)
    return [section for section in found if section.count]


def first_steps() -> list[str]:
    """Of a plant that has no records yet: what to bring in first, in this order."""
    steps = (
        (Storeroom, _("Bring in the storerooms with their opening hours")),
        (Item, _("Bring in the items with their stock")),
        (Position, _("Bring in the drives with their positions")),
    )
    return [words for model, words in steps if not model._default_manager.exists()]


def _counter(today: date) -> Iterator[Section]:
    lent = StockEntry.objects.with_places().issues().not_reversed().filter(expected_back_on__lte=today)
    yield _section(
        gettext_lazy("Expected back"),
        lent.order_by("expected_back_on", "pk"),
        _lent,
        _list("movements", kind="issue"),
    )
    held = Reservation.objects.with_places().open().order_by("pk")
    yield _section(gettext_lazy("Reserved: to pick"), held, _held, _list("reservations", state="open"))
    counts = CountTask.objects.open().filter(due_on__lte=today).select_related("item", "storeroom")
    yield _section(gettext_lazy("Counts due"), counts, _to_count, _list("counts", state="open"))
    yield _section(gettext_lazy("Deliveries due"), _due(today), _delivery, _list("orders", status="open"))
    questions = FitQuestion.objects.filter(answered_at__isnull=True).select_related("item", "storeroom")
    yield _section(gettext_lazy("Questions about fit"), questions.order_by("pk"), _question)
    waiting = InboundMessage.objects.filter(outcome=MessageOutcome.WAITING).order_by("pk")
    yield _section(gettext_lazy("Messages waiting for a record"), waiting, _message)


def _office(today: date) -> Iterator[Section]:
    short = WorkOrder.objects.filter(status=WorkOrderStatus.OPEN, was_ready=False).select_related("position")
    yield _section(
        gettext_lazy("Jobs whose parts are not there"),
        short.order_by(F("needed_by").asc(nulls_last=True), "pk"),
        _job,
        _list("jobs", status="open"),
    )
    yield _section(
        gettext_lazy("Late orders"),
        _due(today - timedelta(days=1)),
        _delivery,
        _list("orders", status="open", promised_on__lte=str(today - timedelta(days=1))),
    )
    waiting = Recommendation.objects.with_places().waiting()
    vital = waiting.filter(importance=Importance.VITAL).order_by("-expected_stockouts_per_year", "pk")
    yield _section(gettext_lazy("To decide for vital drives"), vital, _decision, reverse("screens:decisions"))
    fitted = Installation.objects.still_fitted().select_related("position", "item")
    for title, field in (
        (gettext_lazy("Temporary units ending"), "temporary_until"),
        (gettext_lazy("Inspections due"), "inspect_by"),
    ):
        rows = fitted.filter(**{f"{field}__lte": today + SOON}).order_by(field, "pk")
        yield _section(title, rows, lambda one, field=field: _unit(one, field))
    unanswered = Recommendation.objects.with_places().filter(
        state=RecommendationState.OPEN, is_answered=False
    )
    missing = reverse("screens:decisions") + "?show=unanswered"
    yield _section(
        gettext_lazy("Not recommended: data is missing"), unanswered.order_by("pk"), _decision, missing
    )


def _section(title: Any, rows: QuerySet[Any], line: Any, all_address: str = "") -> Section:
    visible = visible_to_caller(rows)
    first = list(visible[: SHOWN + 1])
    count = len(first) if len(first) <= SHOWN else visible.count()
    return Section(title, count, tuple(line(row) for row in first[:SHOWN]), all_address)


def _due(day: date) -> QuerySet[SupplyOrder]:
    rows = SupplyOrder.objects.open().filter(promised_on__lte=day, received_quantity__lt=F("quantity"))
    return rows.select_related("item", "storeroom").order_by("promised_on", "pk")


def _list(name: str, **query: str) -> str:
    return f"{reverse('screens:list', args=[name])}?{urlencode(query)}"


def _act(name: str, **asked: Any) -> str:
    said = {key: value for key, value in asked.items() if value not in (None, "")}
    return f"{reverse('screens:act', args=[name])}?{urlencode({**said, 'then': '/'})}"


def _item(item: Item) -> tuple[str, str]:
    return item.stock_number, reverse("screens:item", args=[item.stock_number])


def _words(*parts: Any) -> str:
    return " · ".join(str(part) for part in parts if part)


def _day(day: date | None) -> str:
    return date_format(day, "DATE_FORMAT") if day else ""


def _lent(entry: StockEntry) -> Line:
    place = {"work_order": entry.work_order, "position": entry.position}
    return Line(
        *_item(entry.item),
        _words(_day(entry.expected_back_on), f"{-entry.change} ×", entry.work_order, entry.recorded_by_name),
        _("Return"),
        _act(
            "return",
            item=entry.item.stock_number,
            quantity=-entry.change,
            storeroom=entry.storeroom.code,
            **place,
        ),
    )


def _held(held: Reservation) -> Line:
    shelf = {"storeroom": held.storeroom.code, "condition": held.condition}
    return Line(
        *_item(held.item),
        _words(f"{held.open_quantity} ×", held.storeroom.code, held.work_order),
        _("Issue"),
        _act(
            "issue",
            item=held.item.stock_number,
            quantity=held.open_quantity,
            work_order=held.work_order,
            **shelf,
        ),
    )


def _to_count(task: CountTask) -> Line:
    return Line(
        *_item(task.item),
        _words(_day(task.due_on), task.storeroom.code, task.get_cause_display()),
        _("Count"),
        reverse("screens:count", args=[task.pk]),
    )


def _delivery(order: SupplyOrder) -> Line:
    to_come = order.quantity - order.received_quantity
    return Line(
        *_item(order.item),
        _words(
            _day(order.promised_on), f"{to_come} ×", order.external_id, order.supplier, order.storeroom.code
        ),
        _("Check and receive"),
        reverse("screens:delivery", args=[order.pk]),
    )


def _question(question: FitQuestion) -> Line:
    return Line(
        *_item(question.item), _words(question.position, question.work_order, question.storeroom.code)
    )


def _message(message: InboundMessage) -> Line:
    return Line(message.external_id, _list("messages", outcome="waiting"), message.source)


def _job(job: WorkOrder) -> Line:
    place = job.position
    address = reverse("screens:position", args=[place.tag]) if place else _list("jobs", status="open")
    return Line(job.external_id, address, _words(_day(job.needed_by), job.title, place and place.tag))


def _decision(one: Recommendation) -> Line:
    return Line(
        one.item.stock_number,
        reverse("screens:recommendation", args=[one.pk]),
        _words(one.storeroom.code, one.item.description),
    )


def _unit(unit: Installation, field: str) -> Line:
    number = unit.item.stock_number if unit.item else ""
    address = reverse("screens:position", args=[unit.position.tag])
    return Line(unit.position.tag, address, _words(_day(getattr(unit, field)), number))

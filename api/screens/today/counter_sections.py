"""What the counter has to do today."""

from collections.abc import Iterator
from datetime import date

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.edge.scope import visible_to_caller
from api.screens.today.lines import (
    Line,
    Section,
    act_address,
    amount_of,
    day_of,
    delivery_line,
    item_link,
    list_address,
    orders_due,
    section,
    words,
)
from api.screens.today.out_of_hours import out_of_hours
from api.wire.facts import reason_with_sentence
from drives.models.feed import InboundMessage, MessageOutcome
from inventory.models import CountTask, FitQuestion, Reservation, StockEntry


def counter_sections(today: date) -> Iterator[Section]:
    lent = StockEntry.objects.with_places().issues().not_reversed().filter(expected_back_on__lte=today)
    yield section(
        gettext_lazy("Expected back"),
        lent.order_by("expected_back_on", "pk"),
        _lent,
        list_address("movements", kind="issue", expected_back_on__lte=str(today), ordering="occurred_at"),
    )
    yield out_of_hours()
    held = Reservation.objects.with_places().open().order_by("pk")
    yield section(gettext_lazy("Reserved: to pick"), held, _held, list_address("reservations", state="open"))
    counts = CountTask.objects.open().filter(due_on__lte=today).select_related("item", "storeroom")
    yield section(
        gettext_lazy("Counts due"),
        counts,
        _to_count,
        list_address("counts", state="open", due_on__lte=str(today)),
    )
    yield section(
        gettext_lazy("Deliveries due"),
        orders_due(today),
        delivery_line,
        list_address("orders", status="open", promised_on__lte=str(today), ordering="promised_on"),
    )
    questions = FitQuestion.objects.filter(answered_at__isnull=True).select_related("item", "storeroom")
    yield section(
        gettext_lazy("Questions about fit"),
        questions.order_by("pk"),
        _question,
        list_address("questions", answered="false"),
    )
    yield section(
        gettext_lazy("Messages waiting for a record"), messages_waiting(), message_line, messages_address()
    )


def messages_waiting() -> QuerySet[InboundMessage]:
    return visible_to_caller(InboundMessage.objects.filter(outcome=MessageOutcome.WAITING)).order_by("pk")


def messages_address() -> str:
    return list_address("messages", outcome="waiting")


def message_line(message: InboundMessage) -> Line:
    """With the first thing that it waits for."""
    why = next((reason_with_sentence(reason)["detail"] for reason in message.reasons), "")
    address = list_address("messages", outcome="waiting", q=message.external_id)
    return Line(message.external_id, address, words(message.source, why))


def _lent(entry: StockEntry) -> Line:
    place = {"work_order": entry.work_order, "position": entry.position}
    return Line(
        *item_link(entry.item),
        words(
            day_of(entry.expected_back_on),
            amount_of(entry.item, -entry.change),
            entry.work_order,
            entry.recorded_by_name,
        ),
        _("Return"),
        act_address(
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
        *item_link(held.item),
        words(amount_of(held.item, held.open_quantity), held.storeroom.code, held.work_order),
        _("Issue"),
        act_address(
            "issue",
            item=held.item.stock_number,
            quantity=held.open_quantity,
            work_order=held.work_order,
            **shelf,
        ),
    )


def _to_count(task: CountTask) -> Line:
    return Line(
        *item_link(task.item),
        words(day_of(task.due_on), task.storeroom.code, task.get_cause_display()),
        _("Count"),
        reverse("screens:count", args=[task.pk]),
    )


def _question(question: FitQuestion) -> Line:
    return Line(
        *item_link(question.item),
        words(question.position, question.work_order, question.storeroom.code),
        _("Answer"),
        reverse("screens:question", args=[question.pk]),
    )

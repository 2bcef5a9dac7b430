"""One shelf to count, with the measurement that most verdicts of its item wait for."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from api.edge.auth import caller_name
from api.edge.change_log import logging_changes
from api.edge.scope import visible_to_caller
from api.exchange.counted_items import count_and_measure
from api.screens.counter.acts import go_on
from api.screens.planning.measuring import may_count
from api.wire.measured import MeasuredSerializer
from api.wording.sentences import sentence
from drives.assortment.measuring import MeasureQuestion, measure_question
from inventory.facts import Refusal, fact
from inventory.models import CountState, CountTask, StockEntry
from inventory.models.fields import GREATEST_QUANTITY
from inventory.standards.sizes import inches_to_mm

LONGEST_NOTE = 200
YES_NO = {"true": True, "false": False}


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def count(request: HttpRequest, key: int) -> HttpResponse:
    rows = CountTask.objects.select_related("item__specification", "storeroom")
    task = get_object_or_404(visible_to_caller(rows), pk=key)
    is_open = task.state == CountState.OPEN
    question = measure_question(task.item, timezone.localdate()) if is_open else None
    faults: list[tuple[str, str]] = []
    if request.method == "POST":
        if not may_count(request):
            raise PermissionDenied
        faults = [] if _is_repeated(request, task) else _record(request, task, question)
        if not faults:
            return go_on(request, reverse("screens:count", args=[task.pk]))
    context = {
        "task": task,
        "is_open": is_open,
        "question": question,
        "choices": [] if question is None else _choices(question.attribute),
        "faults": faults,
        "sent": request.POST,
        "may_count": may_count(request),
        "longest_note": LONGEST_NOTE,
    }
    return render(request, "screens/count.html", context, status=(400 if is_open else 409) if faults else 200)


def _is_repeated(request: HttpRequest, task: CountTask) -> bool:
    """A second click: the page of the count says what the first one did."""
    own = task.state == CountState.COUNTED and task.counted_by_name == caller_name(request)
    return own and task.counted == _whole(request.POST.get("counted", ""))


def _choices(attribute: str) -> list[tuple[str, str]]:
    """Words to choose from; none for a number or a text."""
    field = MeasuredSerializer().fields[attribute]
    if attribute in ("hardened_teeth", "single_cut"):
        return [("true", _("Yes")), ("false", _("No"))]
    return [(str(value), str(label)) for value, label in getattr(field, "choices", {}).items() if value]


def _record(request: HttpRequest, task: CountTask, question: MeasureQuestion | None) -> list[tuple[str, str]]:
    """Book the count; faults by the field to correct, and then nothing was booked."""
    counted = _whole(request.POST.get("counted", ""))
    if counted is None:
        return [("counted", _("Say how many pieces lie there, 0 if none does."))]
    measured, faults = _measured(request.POST, question)
    if faults:
        return faults
    note = request.POST.get("note", "").replace("\0", "")[:LONGEST_NOTE]
    try:
        with logging_changes(CountTask.objects.filter(pk=task.pk)):
            entry = count_and_measure(task, counted, measured=measured, by=request.user, note=note)  # type: ignore[arg-type]
    except Refusal as refused:
        return [("measured" if refused.field in measured else "counted", sentence(refused.fact))]
    _report(request, entry)
    return []


def _report(request: HttpRequest, entry: StockEntry) -> None:
    """With its undo, where the book was set right; what was measured, and that the shelf was counted, stays."""
    if not entry.change:
        messages.success(request, _("Counted: as booked. There is nothing to undo."))
        return
    said = _(
        "Counted: {change} against the book. Undo sets the book back; the count and what was measured stay."
    )
    messages.success(
        request, said.format(change=format(entry.change, "+d")), extra_tags=f"movement-reverse:{entry.pk}"
    )


def _whole(text: str) -> int | None:
    plain = text.strip()
    is_number = plain.isascii() and plain.isdigit() and len(plain) <= len(str(GREATEST_QUANTITY))
    return int(plain) if is_number and int(plain) <= GREATEST_QUANTITY else None


def _measured(
    form: QueryDict, question: MeasureQuestion | None
) -> tuple[dict[str, Any], list[tuple[str, str]]]:
    """What the box of the measurement holds, in mm unless it names inches; nothing where it is empty."""
    text = form.get("measured", "").replace("\0", "").strip()
    name = form.get("attribute", "")
    if not text or question is None:
        return {}, []
    if name != question.attribute:
        return {}, [("measured", _("The question has changed since: read it again."))]
    try:
        value = _value(name, text)
    except ValueError:
        return {}, [("measured", sentence(fact("measurement_is_no_number")))]
    given = MeasuredSerializer(data={name: value})
    if given.is_valid():
        return given.validated_data, []
    return {}, [("measured", str(one)) for found in given.errors.values() for one in found]


def _value(name: str, text: str) -> Any:
    if name in ("hardened_teeth", "single_cut"):
        return YES_NO.get(text)
    if not name.endswith("_mm"):
        return int(text) if name in ("teeth", "strands", "set_screws") else text
    plain = text.replace(",", ".")
    is_inches = plain.endswith(("in", '"')) or "/" in plain
    return float(inches_to_mm(plain.removesuffix("in").strip())) if is_inches else float(plain)

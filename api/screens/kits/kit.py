"""One kit with its parts and where they lie; every act is a request of the API, as its reader."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from api.edge.scope import visible_to_caller
from api.screens.counter.acts import LONGEST_KEY, go_on, may_book_of
from api.screens.own_api import Answer, send
from api.screens.reports import report
from drives.models import WorkOrder, WorkOrderStatus
from inventory.models import Kit, KitState, Reservation, ReservationState, StockLevel

LONGEST_PLACE = 60


@dataclass(frozen=True)
class KitLine:
    """A part of the kit, with the shelf that holds it."""

    held: Reservation
    level: StockLevel | None
    position: str

    @property
    def is_open(self) -> bool:
        return self.held.state == ReservationState.OPEN and self.held.open_quantity > 0

    @property
    def issue_address(self) -> str:
        """The form of the counter, filled in: it judges the part, and asks what has to be asked."""
        held = self.held
        said = {
            "item": held.item.stock_number,
            "storeroom": held.storeroom.code,
            "condition": held.condition,
            "quantity": held.open_quantity,
            "work_order": held.work_order,
            "position": self.position,
            "then": reverse("screens:kit", args=[held.kit_id]),
        }
        return f"{reverse('screens:act', args=['issue'])}?{urlencode(said)}"


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def kit(request: WSGIRequest, key: int) -> HttpResponse:
    found = get_object_or_404(visible_to_caller(Kit.objects.select_related("storeroom")), pk=key)
    if request.method == "POST":
        act = ACTS.get(request.POST.get("act", ""))
        if act is None:
            raise Http404
        if not may_book_of(request):
            raise PermissionDenied
        act(request, found, request.POST.get("key", "")[:LONGEST_KEY])
        return go_on(request, reverse("screens:kit", args=[found.pk]))
    job = job_named(found.work_order)
    lines = lines_of(found, job)
    context = {
        "kit": found,
        "job": job,
        "lines": lines,
        "is_alive": found.state in (KitState.OPEN, KitState.STAGED),
        "has_open_lines": any(line.is_open for line in lines),
        "longest_place": LONGEST_PLACE,
    }
    return render(request, "kits/kit.html", context)


def lines_of(found: Kit, job: WorkOrder | None) -> list[KitLine]:
    position = job.position.tag if job and job.position else ""
    held = list(found.lines.select_related("item", "storeroom").order_by("pk"))
    shelves = StockLevel.objects.filter(storeroom=found.storeroom, item__in={one.item_id for one in held})
    levels = {(one.item_id, one.condition): one for one in shelves.select_related("bin")}
    return [KitLine(one, levels.get((one.item_id, one.condition)), position) for one in held]


def job_named(number: str) -> WorkOrder | None:
    """The open one of that number first: two systems may call theirs alike."""
    places = ("position__drive__equipment__area__plant", "equipment__area__plant")
    rows = visible_to_caller(WorkOrder.objects.filter(external_id=number)).select_related(*places)
    found = list(rows.order_by("-pk")[:5])
    return min(found, key=lambda one: one.status != WorkOrderStatus.OPEN, default=None)


def reasons_of(answer: Answer) -> str:
    """What is wrong with each member, else with the whole request."""
    rows: Iterable[Mapping[str, Any]] = answer.body.get("errors") or (answer.body,)
    return " ".join(str(row.get("detail", "")) for row in rows)


def _stage(request: WSGIRequest, found: Kit, key: str) -> None:
    place = request.POST.get("place", "").replace("\0", "").strip()[:LONGEST_PLACE]
    answer = send(request, "kit-stage", {"place": place}, key, pk=found.pk)
    if not answer.is_done:
        messages.error(request, _("Not staged: {why}").format(why=reasons_of(answer)))
    elif place:
        report(request, _("The parts are staged at {place}.").format(place=place))
    else:
        report(request, _("The parts are staged."))


def _take_apart(request: WSGIRequest, found: Kit, key: str) -> None:
    answer = send(request, "kit-release", {}, key, pk=found.pk)
    if answer.is_done:
        report(request, _("Taken apart: what was not used is available again. Put it back on its shelves."))
    else:
        messages.error(request, _("Not taken apart: {why}").format(why=reasons_of(answer)))


def _issue(request: WSGIRequest, found: Kit, key: str) -> None:
    """Each line by itself: what is refused stays held, and is issued by the form of the counter, which asks why."""
    job, issued = job_named(found.work_order), []
    for line in lines_of(found, job):
        if not line.is_open:
            continue
        answer = send(request, "movement-list", _issue_of(line), f"{key}-{line.held.pk}")
        if answer.is_done:
            issued.append(answer.body["id"])
        else:
            said = _("{item} was not issued: {why}")
            messages.error(request, said.format(item=line.held.item.stock_number, why=reasons_of(answer)))
    if issued:
        said = ngettext(
            "Issued {n} line to work order {work_order}.",
            "Issued {n} lines to work order {work_order}.",
            len(issued),
        )
        undone_by = "movement-reverse:" + ",".join(map(str, issued))
        report(request, said.format(n=len(issued), work_order=found.work_order), undone_by)


def _issue_of(line: KitLine) -> dict[str, Any]:
    held = line.held
    body = {
        "kind": "issue",
        "item": held.item.stock_number,
        "storeroom": held.storeroom.code,
        "condition": held.condition,
        "quantity": held.open_quantity,
        "work_order": held.work_order,
    }
    return body | ({"position": line.position} if line.position else {})


ACTS: dict[str, Callable[[WSGIRequest, Kit, str], None]] = {
    "stage": _stage,
    "take-apart": _take_apart,
    "issue": _issue,
}

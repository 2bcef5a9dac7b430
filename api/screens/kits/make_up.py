"""A kit is made up for a job: its parts are reserved together, all of them or none."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from api.edge.scope import visible_to_caller
from api.screens.acts import number_of
from api.screens.counter.acts import LONGEST_KEY, go_on, may_book_of
from api.screens.kits.kit import LONGEST_PLACE, job_named
from api.screens.own_api import Answer, send
from api.screens.reports import report
from drives.models import NeededPart, WorkOrder
from inventory.models import Condition, Item, Kit, StockLevel, Storeroom

MOST_LINES = 200
"""As many as the API takes."""
EMPTY_ROWS = 3
FIELDS = ("work_order", "storeroom", "needed_by", "place")


@dataclass(frozen=True)
class PartRow:
    """One line of the form; `item` is the part that is recorded under the number, `free` its pieces in the storeroom."""

    number: str = ""
    quantity: str = ""
    item: Item | None = None
    free: int | None = None


@dataclass
class KitForm:
    work_order: str = ""
    storeroom: str = ""
    needed_by: str = ""
    place: str = ""
    parts: list[tuple[str, str]] = field(default_factory=list)
    faults: dict[str, str] = field(default_factory=dict)
    """By the id of a field; empty: of no field."""

    def body(self) -> dict[str, Any]:
        lines = [{"item": number, "quantity": number_of(quantity)} for number, quantity in self.parts]
        named = {"needed_by": self.needed_by or None, "place": self.place}
        return {"work_order": self.work_order, "storeroom": self.storeroom, "lines": lines, **named}

    def rows(self, most: int) -> Iterator[PartRow]:
        """What is filled in, and empty ones behind it."""
        numbers = [number for number, _quantity in self.parts]
        items = {one.stock_number: one for one in Item.objects.filter(stock_number__in=numbers).order_by()}
        free = _free_of(items.values(), self.storeroom)
        for number, quantity in self.parts:
            item = items.get(number)
            yield PartRow(number, quantity, item, free.get(item.pk, 0) if item and self.storeroom else None)
        for _row in range(min(EMPTY_ROWS, most - len(self.parts))):
            yield PartRow()

    def take_refusal(self, answer: Answer) -> None:
        """Each sentence at its field; that of a shelf which holds too little names its line."""
        for row in answer.body.get("errors") or [answer.body]:
            members = str(row.get("pointer", "")).strip("/").split("/")
            if members[0] == "lines" and len(members) > 1:
                name = f"{'quantity' if members[-1] == 'quantity' else 'item'}-{members[1]}"
            elif "line" in row:
                name = f"quantity-{row['line']}"
            else:
                name = members[0] if members[0] in FIELDS else ""
            self.faults[name] = str(row.get("detail", ""))


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def make_up(request: WSGIRequest) -> HttpResponse:
    if not may_book_of(request):
        raise PermissionDenied
    if request.method != "POST":
        return _page(request, _form_for(request.GET))
    form = _form_sent(request.POST)
    if "more" in request.POST:
        return _page(request, form)
    answer = send(request, "kit-list", form.body(), request.POST.get("key", "")[:LONGEST_KEY])
    if not answer.is_done:
        form.take_refusal(answer)
        return _page(request, form, answer.status)
    said = _("The kit for {work_order} is made up: its parts are reserved for this job.")
    report(request, said.format(work_order=form.work_order))
    return go_on(request, reverse("screens:kit", args=[answer.body["id"]]))


def _form_for(query: QueryDict) -> KitForm:
    """Filled in from the job that is named, by its id or its number."""
    places = ("position__drive__equipment__area__plant__storeroom", "equipment__area__plant__storeroom")
    rows = visible_to_caller(WorkOrder.objects.select_related(*places))
    job = rows.filter(pk=number_of(query.get("job", ""))).first()
    number = _line_of(query.get("work_order", ""))
    job = job or (job_named(number) if number else None)
    if job is None:
        return KitForm(work_order=number, storeroom=_line_of(query.get("storeroom", "")))
    needed: Counter[str] = Counter()
    for part, pieces in NeededPart.objects.filter(work_order=job).values_list("stock_number", "quantity"):
        needed[part] += pieces
    room = job.plant.storeroom if job.plant else None
    return KitForm(
        work_order=job.external_id,
        storeroom=room.code if room else "",
        needed_by=job.needed_by.isoformat() if job.needed_by else "",
        parts=[(part, str(pieces)) for part, pieces in list(needed.items())[:MOST_LINES]],
    )


def _form_sent(sent: QueryDict) -> KitForm:
    """Rows that are left empty are left out."""
    pairs = zip(sent.getlist("item"), sent.getlist("quantity"), strict=False)
    parts = [(_line_of(number), _line_of(quantity)) for number, quantity in pairs]
    form = KitForm(parts=[row for row in parts if any(row)][:MOST_LINES])
    for name in FIELDS:
        setattr(form, name, _line_of(sent.get(name, "")))
    return form


def _line_of(text: str) -> str:
    return text.replace("\0", "").strip()[:200]


def _free_of(items: Any, storeroom: str) -> dict[int, int]:
    rows = StockLevel.objects.filter(
        item__in=[one.pk for one in items], storeroom__code=storeroom, condition=Condition.NEW
    )
    return {item: on_hand - held for item, on_hand, held in rows.values_list("item", "on_hand", "reserved")}


def _page(request: WSGIRequest, form: KitForm, status: int = 200) -> HttpResponse:
    rooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    if len(rooms) == 1:
        form.storeroom = form.storeroom or rooms[0].code
    standing = visible_to_caller(
        Kit.objects.alive().filter(work_order=form.work_order, storeroom__code=form.storeroom)
    )
    context = {
        "form": form,
        "storerooms": [(room.code, room.name, room.code == form.storeroom) for room in rooms],
        "rows": list(enumerate(form.rows(MOST_LINES))),
        "faults": list(form.faults.items()),
        "standing": standing.first() if form.work_order else None,
        "job": job_named(form.work_order) if form.work_order else None,
        "longest_place": LONGEST_PLACE,
    }
    return render(request, "kits/make_up.html", context, status=status)

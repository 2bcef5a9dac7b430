"""Labels of bins and items with a code that the box understands when it is scanned, from the question of a list."""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.handlers.wsgi import WSGIRequest
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from api.screens.lists.listed import Listed, QuestionRefused
from api.screens.paper.emergency import styles_of
from api.screens.paper.label_sheets import SHEETS, Label, LabelSheet, PlacedLabel, laid_out
from api.screens.visible_record import visible_or_404
from inventory.models import Item

USUAL_SHEET = "3x8"
MOST_LABELS = 2_000
Row = dict[str, Any]
LABELS: dict[str, Callable[[Row], Label]] = {
    "items": lambda row: Label(
        row["stock_number"], (row["description"], f"{row['maker']} {row['maker_part_number']}".strip())
    ),
    "stock": lambda row: Label(
        row["item"], (row["description"], f"{row['storeroom']} {row['bin'] or ''}".strip())
    ),
    "bins": lambda row: Label(row["code"], (row["storeroom"],)),
}
DIFFER_IN = {"stock": ("item", "storeroom", "bin")}
"""What tells two labels apart where it is not the row."""


@dataclass(frozen=True)
class LabelOptions:
    sheet_name: str
    first: int
    outlines: bool
    faults: tuple[tuple[str, str], ...]

    @property
    def sheet(self) -> LabelSheet:
        return SHEETS[self.sheet_name]


def _options_of(request: WSGIRequest) -> LabelOptions:
    name, text = request.GET.get("sheet") or USUAL_SHEET, request.GET.get("first") or "1"
    faults = []
    if name not in SHEETS:
        faults.append(("sheet", _("This sheet of labels is not known: choose one from the list.")))
        name = USUAL_SHEET
    most = SHEETS[name].count
    first = int(text) if text.isascii() and text.isdigit() and len(text) < 4 else 0
    if not 1 <= first <= most:
        sentence = _("The first free label must be a number from 1 to {most}.").format(most=most)
        faults.append(("first", sentence))
        first = 1
    return LabelOptions(name, first, request.GET.get("outlines") == "1", tuple(faults))


def _label_of_item(number: str) -> Label:
    item = visible_or_404(Item.objects.all(), "stock_number", number)
    fields = ("stock_number", "description", "maker", "maker_part_number")
    return LABELS["items"]({name: getattr(item, name) for name in fields})


def _every_label(listed: Listed) -> list[Label] | None:
    """None where the question is refused."""
    found = listed.every_row(MOST_LABELS)
    return None if found is None else _different(listed, found[0])


def _first_labels(listed: Listed, room: int) -> tuple[list[Label], int] | None:
    """For a sheet with that much room, and how many there are; None where the question is refused."""
    rows: list[Row] = []
    labels: list[Label] = []
    try:
        for page in listed.pages(room):
            rows += page
            labels = _different(listed, rows)
            if len(labels) >= room:
                return labels[:room], listed.count(DIFFER_IN.get(listed.name, ("pk",)))
    except QuestionRefused:
        return None
    return labels, len(labels)


def _different(listed: Listed, rows: list[Row]) -> list[Label]:
    """Stock in two conditions in one bin has one label."""
    return list(dict.fromkeys(LABELS[listed.name](row) for row in rows))


@require_safe
@login_required
def labels(request: WSGIRequest, name: str, form: str = "") -> HttpResponse:
    """The first sheet with its choices, or as a file all of them."""
    if name not in LABELS:
        raise Http404
    listed, options = Listed(name, request), _options_of(request)
    listed.query.pop("cursor", None)
    number, room = request.GET.get("number", ""), options.sheet.count - options.first + 1
    refused = redirect(reverse("screens:list", args=[name]) + listed.link())
    if form:
        labels = [_label_of_item(number)] if number else _every_label(listed)
        return (
            refused
            if labels is None
            else _file(name, laid_out(labels, options.sheet, options.first), options)
        )
    found = ([_label_of_item(number)], 1) if number else _first_labels(listed, room)
    if found is None:
        return refused
    count = min(found[1], MOST_LABELS)
    sheet_count = ceil((count + options.first - 1) / options.sheet.count)
    context = {
        "options": options,
        "name": name,
        "title": listed.shown.title,
        "pages": laid_out(found[0], options.sheet, options.first),
        "page_count": sheet_count,
        "has_more_sheets": sheet_count > 1,
        "label_count": count,
        "has_more": found[1] > MOST_LABELS,
        "sheets": [(key, sheet.words) for key, sheet in SHEETS.items()],
        "kept": [*listed.query.items(), *(("number", value) for value in request.GET.getlist("number")[:1])],
        "file": f"{reverse('screens:labels_file', args=[name])}?{request.GET.urlencode()}",
        "back": reverse("screens:list", args=[name]) + listed.link(),
    }
    return render(request, "paper/labels.html", context, status=400 if options.faults else 200)


def _file(name: str, pages: list[list[PlacedLabel]], options: LabelOptions) -> HttpResponse:
    context = {"pages": pages, "options": options, "styles": styles_of("tokens.css", "labels.css")}
    text = render_to_string("paper/labels_file.html", context)
    return HttpResponse(text, headers={"Content-Disposition": f'attachment; filename="labels-{name}.html"'})

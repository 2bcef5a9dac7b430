"""The pages of the lists: their address is a search that can be kept, and what is shown is taken along as a file."""

from collections.abc import Callable, Iterator
from itertools import chain
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.edge.csv_writing import csv_file
from api.edge.kept_context import in_context_of_request
from api.edge.workbook_writing import workbook_file
from api.screens.counter.acts import may_book_of
from api.screens.lists.cells import file_value, is_moment
from api.screens.lists.declared import LISTS, NAMES, NEW
from api.screens.lists.listed import Listed, QuestionRefused
from api.screens.lists.remembered import is_said, kept_places, remembering
from api.screens.lists.tree import TREE_TITLE

PAGE_SIZE = 50
WITH_LABELS = ("items", "stock", "bins")
WriteFile = Callable[[str, list[str], Iterator[list[Any]]], HttpResponseBase]
FILES: dict[str, WriteFile] = {"csv": csv_file, "xlsx": workbook_file}


@require_safe
@login_required
def lists(request: WSGIRequest) -> HttpResponse:
    found = [(reverse("screens:list", args=[name]), one.title) for name, one in LISTS.items()]
    return render(request, "lists/all.html", {"lists": [(reverse("screens:tree"), TREE_TITLE), *found]})


@require_safe
@login_required
def list_page(request: WSGIRequest, name: str) -> HttpResponse:
    listed = Listed(name, request)
    if not listed.query and not is_said(request):
        kept = kept_places(request, listed.shown.filter_names)
        if kept:
            return redirect(request.path + listed.link(**kept))
    return remembering(_page(request, listed), request)


def _page(request: WSGIRequest, listed: Listed) -> HttpResponse:
    answer = listed.answer(limit=PAGE_SIZE)
    faults = {row.get("parameter", ""): row["detail"] for row in answer.body.get("errors", ())}
    files = [(form, reverse("screens:list_file", args=[listed.name, form])) for form in FILES]
    labels = reverse("screens:labels", args=[listed.name]) if listed.name in WITH_LABELS else ""
    context = {
        "shown": listed.shown,
        "everything": listed.everything,
        "boxes": list(listed.boxes(faults)),
        "headings": list(listed.headings()),
        "rows": list(listed.rows(answer.body.get("results", []))),
        "in_words": listed.in_words(),
        "faults": list(faults.items()),
        "text": listed.query.get("q", ""),
        "ordering": listed.query.get("ordering", ""),
        "next": listed.other_page(answer.body.get("next")),
        "previous": listed.other_page(answer.body.get("previous")),
        "files": [(form.upper(), address + listed.link()) for form, address in files],
        "labels": labels and labels + listed.link(),
        "new": NEW.get(listed.name) if may_book_of(request) else None,
    }
    return render(request, "lists/list.html", context)


@require_safe
@login_required
def list_file(request: WSGIRequest, name: str, form: str) -> HttpResponseBase:
    """The rows of the question in its order, with the columns and words of the page."""
    listed = Listed(name, request)
    listed.query.pop("cursor", None)
    pages = listed.pages()
    try:
        first = next(pages)
    except QuestionRefused:
        return redirect(reverse("screens:list", args=[name]) + listed.link())
    rows = (row for page in chain([first], pages) for row in _cells_of(listed, page))
    return FILES[form](f"{name}.{form}", _header(listed), in_context_of_request(rows))


def _header(listed: Listed) -> list[str]:
    zone = timezone.get_current_timezone_name()
    return [
        f"{NAMES[name]} ({zone})" if is_moment(listed.record, name) else str(NAMES[name])
        for name in listed.shown.column_names
    ]


def _cells_of(listed: Listed, rows: list[dict[str, Any]]) -> Iterator[list[Any]]:
    labels = {name: listed.words_of(name) for name in listed.shown.column_names}
    for row in listed.with_units(rows):
        yield [file_value(name, row.get(name), labels[name]) for name in listed.shown.column_names]

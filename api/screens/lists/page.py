"""A list of records: filtered in words, ordered by a heading, its address kept as a search, the same rows as a file."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

from django.contrib.auth.decorators import login_required
from django.core.handlers.wsgi import WSGIRequest
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from api.edge.csv_writing import csv_file
from api.edge.filtering import DayFilter, MomentFilter, NumberFilter, TruthFilter, WordsFilter
from api.screens.lists.cells import NUMBERS, file_value, labels_of, shown_value
from api.screens.lists.declared import LISTS, NAMES, OPENS, TAGS, ListPage
from api.screens.lists.workbook import workbook_file
from api.screens.own_api import Answer, read
from api.screens.planning.storeroom_time import in_storeroom_time
from api.wire.declaration import wire_records
from api.wire.views import view_of
from api.wording.separators import localized
from api.wording.vocabulary import word_of

PAGE_SIZE, FILE_PAGE_SIZE, MOST_IN_A_FILE = 50, 500, 20_000
BEFORE, AFTER = "__lte", "__gte"
PLACE_COOKIE = "storeroom"
PLACE_KEPT_SECONDS = 365 * 24 * 3600
WITH_LABELS = ("items", "stock", "bins")
Cell = tuple[str, str]
"""What is shown, and the address it leads to; empty where it leads nowhere."""


@dataclass(frozen=True)
class FilterBox:
    """One filter as it is asked: by choosing, by a date, or by typing."""

    name: str
    label: str
    value: str
    choices: tuple[tuple[str, str], ...] = ()
    input: str = "text"
    fault: str = ""


@dataclass(frozen=True)
class Heading:
    """`address` orders by it; empty where the list cannot be ordered by it."""

    label: str
    address: str = ""
    order: str = ""
    is_number: bool = False


class Listed:
    """A list with the question of its address."""

    def __init__(self, name: str, request: WSGIRequest) -> None:
        self.name, self.request, self.shown = name, request, _declared(name)
        self.record = next(one for one in wire_records() if one.path == self.shown.path)
        self.view = view_of(self.record)
        asked = (*self.shown.filter_names, "q", "ordering", "cursor")
        given = {key: request.GET.get(key, "").strip() for key in asked}
        self.query = {key: value for key, value in given.items() if value}

    @property
    def address(self) -> str:
        return self.record.basename + "-list"

    def answer(self, **more: Any) -> Answer:
        return read(self.request, self.address, self._api_query() | more)

    def every_row(self, most: int) -> tuple[list[dict[str, Any]], bool] | None:
        """All rows of the question, up to about so many, and whether there are more; None where it is refused."""
        rows: list[dict[str, Any]] = []
        cursor: dict[str, str] = {}
        while True:
            answer = self.answer(limit=FILE_PAGE_SIZE, **cursor)
            if not answer.is_done:
                return None
            rows += answer.body["results"]
            following = parse_qs(urlsplit(answer.body["next"] or "").query)
            if not following or len(rows) >= most:
                return rows, bool(following)
            cursor = {"cursor": following["cursor"][0]}

    def _api_query(self) -> dict[str, Any]:
        """A day in the reader's zone is a moment for the API."""
        found: dict[str, Any] = {}
        for name, value in self.query.items():
            found[name] = _moment_of(name, value) if self._is_moment(name) else value
        return found

    def _filter(self, name: str) -> Any:
        return self.view.filterset_class.base_filters[name]

    def _is_moment(self, name: str) -> bool:
        return name in self.shown.filter_names and isinstance(self._filter(name), MomentFilter)

    def boxes(self, faults: dict[str, str]) -> Iterator[FilterBox]:
        for name in self.shown.filter_names:
            one = self._filter(name)
            yield FilterBox(
                name,
                _label_of_filter(name),
                self.query.get(name, ""),
                tuple(self._choices(one)),
                "date"
                if isinstance(one, MomentFilter | DayFilter)
                else "number"
                if isinstance(one, NumberFilter)
                else "text",
                faults.get(name, ""),
            )

    def _choices(self, one: Any) -> Iterator[tuple[str, str]]:
        if isinstance(one, TruthFilter):
            yield from (("true", _("Yes")), ("false", _("No")))
        elif isinstance(one, WordsFilter) and (words := one.extra.get("choices")):
            labels = labels_of(self.record, one.field_name)
            yield from ((word, labels.get(word) or word_of(word)) for word in words)

    def headings(self) -> Iterator[Heading]:
        ordering = self.query.get("ordering", "")
        for name in self.shown.column_names:
            label, sortable = str(NAMES[name]), self.view.ordering_fields or {}
            if name not in sortable:
                yield Heading(label, is_number=name in NUMBERS)
                continue
            is_up, is_down = ordering == name, ordering == f"-{name}"
            address = self.link(ordering=f"-{name}" if is_up else name)
            yield Heading(
                label, address, "ascending" if is_up else "descending" if is_down else "none", name in NUMBERS
            )

    def link(self, **changes: str) -> str:
        """The same question with some of it changed, from its first page on."""
        kept = {**self.query, "cursor": "", **changes}
        # Without a storeroom the list begins with the one remembered: that there is to be none is said.
        return "?" + urlencode(
            {
                name: value
                for name, value in kept.items()
                if value or (name in changes and name == "storeroom")
            }
        )

    def rows(self, results: list[dict[str, Any]]) -> Iterator[list[tuple[str, str, bool]]]:
        words = {name: labels_of(self.record, name) for name in self.shown.column_names}
        for row in results:
            cells = []
            for name in self.shown.column_names:
                text, address = self._cell(name, row.get(name), words[name])
                cells.append((text, address, name in NUMBERS))
            yield cells

    def _cell(self, name: str, value: Any, words: dict[str, str]) -> Cell:
        text = words.get(value, "") if isinstance(value, str) else ""
        text = text or shown_value(value)
        text = localized(text) if name in NUMBERS else text
        opens = TAGS.get(self.name, "") if name == "tag" else OPENS.get(name, "")
        return text, reverse(opens, args=[value]) if opens and isinstance(value, str) and value else ""

    def in_words(self) -> list[tuple[str, str]]:
        """What the list is narrowed by, each with the address of the list without it."""
        found = []
        for box in self.boxes({}):
            if box.value:
                value = dict(box.choices).get(box.value, box.value)
                found.append((f"{box.label}: {value}", self.link(**{box.name: ""})))
        if text := self.query.get("q"):
            found.append((f"“{text}”", self.link(q="")))
        return found


@require_safe
@login_required
def lists(request: WSGIRequest) -> HttpResponse:
    return render(request, "lists/all.html", {"lists": LISTS.items()})


@require_safe
@login_required
@in_storeroom_time
def list_page(request: WSGIRequest, name: str) -> HttpResponse:
    listed = Listed(name, request)
    if "storeroom" in request.GET:
        # Chosen, or chosen to be none: the next list begins with it.
        return _remembering(_page(request, listed), request.GET["storeroom"].strip())
    kept = request.COOKIES.get(PLACE_COOKIE, "")
    if kept and "storeroom" in listed.shown.filter_names and not listed.query:
        return redirect(request.path + listed.link(storeroom=kept))
    return _page(request, listed)


def _page(request: WSGIRequest, listed: Listed) -> HttpResponse:
    answer = listed.answer(limit=PAGE_SIZE)
    faults = {row.get("parameter", ""): row["detail"] for row in answer.body.get("errors", ())}
    context = {
        "listed": listed,
        "title": listed.shown.title,
        "boxes": list(listed.boxes(faults)),
        "headings": list(listed.headings()),
        "rows": list(listed.rows(answer.body.get("results", []))),
        "in_words": listed.in_words(),
        "faults": list(faults.items()),
        "text": listed.query.get("q", ""),
        "ordering": listed.query.get("ordering", ""),
        "next": _cursor_of(answer.body.get("next"), listed),
        "previous": _cursor_of(answer.body.get("previous"), listed),
        "files": [
            (form.upper(), reverse("screens:list_file", args=[listed.name, form]) + listed.link())
            for form in FILES
        ],
        "labels": reverse("screens:labels", args=[listed.name]) + listed.link()
        if listed.name in WITH_LABELS
        else "",
    }
    return render(request, "lists/list.html", context)


@require_safe
@login_required
@in_storeroom_time
def list_file(request: WSGIRequest, name: str, form: str) -> HttpResponse:
    """The rows of the question in its order, with the columns of the page."""
    listed = Listed(name, request)
    listed.query.pop("cursor", None)
    header = [str(NAMES[column]) for column in listed.shown.column_names]
    found = listed.every_row(MOST_IN_A_FILE)
    if found is None:
        return redirect(reverse("screens:list", args=[name]) + listed.link())
    rows = [[file_value(row.get(column)) for column in listed.shown.column_names] for row in found[0]]
    if found[1]:
        note = _("Only the first {n} rows: narrow the list for the others.").format(n=len(rows))
        rows.append([note, *([""] * (len(header) - 1))])
    return FILES[form](f"{name}.{form}", header, iter(rows))


FILES: dict[str, Callable[[str, list[str], Iterator[list[Any]]], HttpResponse]] = {
    "csv": csv_file,  # type: ignore[dict-item]
    "xlsx": workbook_file,
}


def _declared(name: str) -> ListPage:
    if name not in LISTS:
        raise Http404
    return LISTS[name]


def _label_of_filter(name: str) -> str:
    base, _mark, _lookup = name.partition("__")
    label = str(NAMES[base])
    if name.endswith(BEFORE):
        return _("{label}, until").format(label=label)
    return _("{label}, from").format(label=label) if name.endswith(AFTER) else label


def _moment_of(name: str, day: str) -> str:
    try:
        at = datetime.combine(
            date.fromisoformat(day), datetime.max.time() if name.endswith(BEFORE) else datetime.min.time()
        )
    except ValueError:
        return day
    return timezone.make_aware(at.replace(microsecond=0)).isoformat()


def _cursor_of(address: str | None, listed: Listed) -> str:
    found = parse_qs(urlsplit(address or "").query).get("cursor")
    return listed.link(cursor=found[0]) if found else ""


def _remembering(page: HttpResponse, storeroom: str) -> HttpResponse:
    if storeroom:
        page.set_cookie(
            PLACE_COOKIE, storeroom[:40], max_age=PLACE_KEPT_SECONDS, samesite="Lax", httponly=True
        )
    else:
        page.delete_cookie(PLACE_COOKIE, samesite="Lax")
    return page

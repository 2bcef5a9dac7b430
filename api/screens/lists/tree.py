"""The equipment tree as a list: plant, area, equipment, drive, position, each row under what it belongs to."""

from collections.abc import Iterable, Iterator
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.handlers.wsgi import WSGIRequest
from django.core.paginator import Paginator
from django.db.models import CharField, F, Model, Q, QuerySet, Value
from django.db.models.functions import Cast, Coalesce
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from api.edge.csv_writing import csv_file
from api.edge.kept_context import in_context_of_request
from api.edge.scope import visible_to_caller
from api.edge.workbook_writing import workbook_file
from api.screens.lists.declared import NAMES
from api.screens.lists.listed import Cell, FilterBox, Heading
from api.screens.lists.remembered import REMEMBERED, codes_of, is_said, kept_places, remembering
from api.screens.planning.list_filters import page_number
from drives.models import Area, Drive, Equipment, Plant, Position

TREE_TITLE = gettext_lazy("Equipment tree")
PAGE_SIZE, FILE_ROWS_AT_ONCE = 100, 2_000
LEVELS: dict[str, tuple[type[Model], tuple[str, ...]]] = {
    "plant": (Plant, ("code",)),
    "area": (Area, ("plant__code", "code")),
    "equipment": (Equipment, ("area__plant__code", "area__code", "tag")),
    "drive": (Drive, ("equipment__area__plant__code", "equipment__area__code", "equipment__tag", "tag")),
    "position": (
        Position,
        (
            "drive__equipment__area__plant__code",
            "drive__equipment__area__code",
            "drive__equipment__tag",
            "drive__tag",
            "tag",
        ),
    ),
}
"""With the paths to what a record belongs to, itself last."""
KNOWN: dict[str, dict[str, Any]] = {
    "drive": {"chain": F("chain_designation")},
    "position": {"teeth": Coalesce(Cast("teeth", CharField()), Value(""))},
}
DETAILS = {"chain": "drive", "teeth": "position"}
"""What else is shown, and of which level."""
ALL_COLUMNS = (*LEVELS, "name", *DETAILS)
OPENED_TO = {"plant": "equipment", "area": "drive", "equipment": "position", "drive": "position"}
"""How far down a list goes that was opened at such a place."""
PAGES = {"drive": "screens:drive", "position": "screens:position"}


TreeRow = tuple[str, ...]
"""A place on each level, empty below its own; its name and details."""
TreeRows = QuerySet[Any, TreeRow]


class Tree:
    """The rows that the address asks for, in the order of the tree."""

    def __init__(self, request: WSGIRequest) -> None:
        given = {name: request.GET.get(name, "").replace("\0", "").strip()[:200] for name in (*LEVELS, "q")}
        self.query = {name: value for name, value in given.items() if value and name != "position"}
        down_to = request.GET.get("level", "")
        self.down_to = down_to if down_to in LEVELS else ""

    @property
    def depth(self) -> int:
        """How many levels are shown; what is narrowed to is shown itself in any case."""
        names = list(LEVELS)
        opened = [name for name in OPENED_TO if name in self.query]
        own = OPENED_TO[opened[-1]] if opened else "equipment"
        wanted = self.down_to or ("position" if "q" in self.query else own)
        return 1 + max(names.index(name) for name in (wanted, *opened))

    def rows(self) -> TreeRows:
        first, *others = [
            found for name in list(LEVELS)[: self.depth] if (found := self._level(name)) is not None
        ]
        return first.union(*others, all=True).order_by(*(f"in_{name}" for name in LEVELS))

    def _level(self, level: str) -> TreeRows | None:
        """The rows of one level; None where a filter names something below it."""
        model, paths = LEVELS[level]
        place = dict(zip(LEVELS, paths, strict=False))
        narrowed = {place.get(name, ""): value for name, value in self.query.items() if name != "q"}
        if "" in narrowed:
            return None
        rows = visible_to_caller(model._default_manager.order_by()).filter(**narrowed)
        own = paths[-1]
        for word in self.query.get("q", "").split():
            rows = rows.filter(Q(**{f"{own}__icontains": word}) | Q(name__icontains=word))
        known = KNOWN.get(level, {})
        values = {
            f"in_{name}": F(place[name]) if name in place else Value("", CharField()) for name in LEVELS
        }
        values |= {f"its_{name}": known.get(name, Value("", CharField())) for name in DETAILS}
        found: TreeRows = rows.annotate(**values, its_name=F("name")).values_list(
            *(f"in_{name}" for name in LEVELS), "its_name", *(f"its_{name}" for name in DETAILS)
        )
        return found

    def link(self, **changes: str) -> str:
        kept = {**dict.fromkeys(OPENED_TO, ""), **self.query, "level": self.down_to, **changes}
        return "?" + urlencode({name: value for name, value in kept.items() if value or name in REMEMBERED})

    def boxes(self) -> Iterator[FilterBox]:
        for name in ("plant", "area", "equipment", "drive"):
            value = self.query.get(name, "")
            choices = tuple(codes_of(name, value)) if name in REMEMBERED else ()
            yield FilterBox(name, str(NAMES[name]), value, choices)
        levels = tuple((name, str(NAMES[name])) for name in LEVELS)
        yield FilterBox("level", _("Down to"), self.down_to, levels)

    def in_words(self) -> list[tuple[str, str]]:
        words = [(f"{box.label}: {dict(box.choices).get(box.value, box.value)}", box) for box in self.boxes()]
        found = [(text, self.link(**{box.name: ""})) for text, box in words if box.value]
        if text := self.query.get("q"):
            found.append((f"“{text}”", self.link(q="")))
        return found

    @property
    def columns(self) -> list[str]:
        """Without the places below the last level that is shown."""
        shown = list(LEVELS)[: self.depth]
        return [*shown, "name", *(name for name in DETAILS if DETAILS[name] in shown)]

    def headings(self) -> list[Heading]:
        """On a narrow page one column holds the place of each row, without what it belongs to."""
        kinds = {**dict.fromkeys(LEVELS, "wide-only"), "teeth": "n"}
        named = [Heading(str(NAMES[name]), kind=kinds.get(name, "")) for name in self.columns]
        return [Heading(str(NAMES["place"]), kind="narrow-only"), *named]

    def cells(self, rows: Iterable[TreeRow]) -> Iterator[list[Cell]]:
        """What a row is leads on; what it belongs to is text."""
        for row in rows:
            of_row = dict(zip(ALL_COLUMNS, row, strict=True))
            own = [name for name in LEVELS if of_row[name]][-1]
            kinds = {**dict.fromkeys(LEVELS, "soft wide-only"), "teeth": "n", own: f"level-{own}"}
            yield [
                Cell(of_row[name], self._address(own, row) if name == own else "", kinds.get(name, ""))
                for name in self.columns
            ]

    def file_rows(self) -> Iterator[list[str]]:
        places = [ALL_COLUMNS.index(name) for name in self.columns]
        for row in self.rows().iterator(chunk_size=FILE_ROWS_AT_ONCE):
            yield [row[place] for place in places]

    def _address(self, level: str, path: TreeRow) -> str:
        """A drive and a position have a page; what stands above is opened here."""
        upto = dict(zip(LEVELS, path, strict=False))
        if level in PAGES:
            return reverse(PAGES[level], args=[upto[level]])
        names = list(LEVELS)
        opened = {name: upto[name] for name in names[: names.index(level) + 1]}
        cleared = dict.fromkeys((*OPENED_TO, "q", "level"), "")
        return self.link(**{**cleared, **opened})


@require_safe
@login_required
def tree(request: WSGIRequest) -> HttpResponse:
    found = Tree(request)
    if not found.query and not is_said(request) and not found.down_to:
        kept = kept_places(request, LEVELS)
        if kept:
            return redirect(request.path + "?" + urlencode(kept))
    page = Paginator(found.rows(), PAGE_SIZE).get_page(page_number(request.GET.get("page", "")))
    files = [(form, reverse("screens:tree_file", args=[form])) for form in ("csv", "xlsx")]
    context = {
        "shown": {
            "title": TREE_TITLE,
            "begins": _("No plant is recorded yet. Bring in plants, areas, equipment, drives and positions."),
            "first_step": (f"{reverse('screens:imports')}?kind=plants#send", _("Bring in a file")),
        },
        "everything": "?" + urlencode({"plant": "", "area": ""}),
        "boxes": list(found.boxes()),
        "headings": found.headings(),
        "rows": list(found.cells(page)),
        "in_words": found.in_words(),
        "text": found.query.get("q", ""),
        "next": found.link(page=str(page.next_page_number())) if page.has_next() else "",
        "previous": found.link(page=str(page.previous_page_number())) if page.has_previous() else "",
        "files": [(form.upper(), address + found.link()) for form, address in files],
    }
    return remembering(render(request, "lists/list.html", context), request)


@require_safe
@login_required
def tree_file(request: WSGIRequest, form: str) -> HttpResponseBase:
    """All rows of the question, with the columns of the page."""
    found = Tree(request)
    header, rows = [str(NAMES[name]) for name in found.columns], in_context_of_request(found.file_rows())
    return csv_file("tree.csv", header, rows) if form == "csv" else workbook_file("tree.xlsx", header, rows)

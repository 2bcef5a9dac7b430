"""A list with the question of its address: its filters, headings and rows, read through the API as its reader."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, NamedTuple
from urllib.parse import parse_qs, urlencode, urlsplit

from django.core.handlers.wsgi import WSGIRequest
from django.http import Http404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from api.edge.filtering import DayFilter, MomentFilter, NumberFilter, TruthFilter, WordsFilter
from api.screens.lists.cells import NUMBERS, in_own_words, labels_of, shown_value
from api.screens.lists.declared import ACTS, EXPLAINED, LENGTHS, LISTS, NAMES, OPENS, TAGS, ListPage
from api.screens.lists.remembered import REMEMBERED, codes_of
from api.screens.own_api import Answer, listed_rows, read
from api.wire.declaration import wire_records
from api.wire.views import view_of
from api.wording.lengths import size_text
from api.wording.separators import localized
from api.wording.vocabulary import word_of
from inventory.models import Item
from inventory.models.item import Unit

FILE_PAGE_SIZE = 500
BEFORE, AFTER = "__lte", "__gte"


class Cell(NamedTuple):
    """What is shown, and the address it leads to; empty where it leads nowhere."""

    text: str
    address: str = ""
    kind: str = ""


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
    kind: str = ""
    """How its column looks."""
    term: str = ""
    """Where the page of help explains it."""


class QuestionRefused(Exception):  # noqa: N818
    """The API does not answer it, so there are no rows."""


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
        try:
            for page in self.pages():
                if len(rows) >= most:
                    return rows, True
                rows += page
        except QuestionRefused:
            return None
        return rows, False

    def count(self, fields: tuple[str, ...]) -> int:
        """Of the rows of an answered question that differ in one of the fields."""
        rows = listed_rows(self.request, self.address, self._api_query())
        return rows.values(*fields).distinct().count()

    def pages(self, size: int = FILE_PAGE_SIZE) -> Iterator[list[dict[str, Any]]]:
        """All rows of the question, a page at a time."""
        cursor: dict[str, str] = {}
        while True:
            answer = self.answer(limit=size, **cursor)
            if not answer.is_done:
                raise QuestionRefused(answer.body.get("detail", ""))
            yield answer.body["results"]
            following = parse_qs(urlsplit(answer.body["next"] or "").query)
            if not following:
                return
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
                tuple(self._choices(name, one)),
                "date"
                if isinstance(one, MomentFilter | DayFilter)
                else "number"
                if isinstance(one, NumberFilter)
                else "text",
                faults.get(name, ""),
            )

    def _choices(self, name: str, one: Any) -> Iterator[tuple[str, str]]:
        if name in REMEMBERED:
            yield from codes_of(name, self.query.get(name, ""))
        elif isinstance(one, TruthFilter):
            yield from (("true", _("Yes")), ("false", _("No")))
        elif isinstance(one, WordsFilter) and (words := one.extra.get("choices")):
            labels = labels_of(self.record, one.field_name)
            yield from ((word, labels.get(word) or word_of(word)) for word in words)

    def headings(self) -> Iterator[Heading]:
        ordering = self.query.get("ordering", "")
        for name in self.shown.column_names:
            label, sortable = str(LENGTHS.get(name, NAMES[name])), self.view.ordering_fields or {}
            kind, term = kind_of(name), EXPLAINED.get(name, "")
            if name not in sortable:
                yield Heading(label, kind=kind, term=term)
                continue
            is_up, is_down = ordering == name, ordering == f"-{name}"
            address = self.link(ordering=f"-{name}" if is_up else name)
            order = "ascending" if is_up else "descending" if is_down else "none"
            yield Heading(label, address, order, kind, term)

    def link(self, **changes: str) -> str:
        """The same question with some of it changed, from its first page on."""
        kept = {**self.query, "cursor": "", **changes}
        # Without a place the list begins with the one remembered: that there is to be none is said.
        said = {name: value for name, value in kept.items() if value or name in {*changes} & {*REMEMBERED}}
        return "?" + urlencode(said)

    @property
    def everything(self) -> str:
        """The address of the whole list, whatever place is remembered."""
        return "?" + urlencode({name: "" for name in REMEMBERED if name in self.shown.filter_names})

    def other_page(self, address: str | None) -> str:
        """The address of another page of the question, from that of the API."""
        found = parse_qs(urlsplit(address or "").query).get("cursor")
        return self.link(cursor=found[0]) if found else ""

    def words_of(self, name: str) -> dict[str, str]:
        """Of the words that a column may hold: as its record says them, else as its filter does."""
        if name == "unit":
            return {str(value): str(label) for value, label in Unit.choices}
        labels = labels_of(self.record, name)
        one = self.view.filterset_class.base_filters.get(name)
        choices = one.extra.get("choices") or () if isinstance(one, WordsFilter) else ()
        return labels or {word: word_of(word) for word in choices}

    def rows(self, results: list[dict[str, Any]]) -> Iterator[list[Cell]]:
        words = {name: self.words_of(name) for name in self.shown.column_names}
        for row in self.with_units(results):
            yield [self._cell(name, row, words[name]) for name in self.shown.column_names]

    def with_units(self, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """What each quantity counts, from the item, where the API does not say it beside the quantity."""
        if "unit" not in self.shown.column_names or "unit" in self.record.names:
            return rows
        items = Item.objects.filter(stock_number__in={row["item"] for row in rows})
        units = dict(items.values_list("stock_number", "unit"))
        return [{**row, "unit": units.get(row["item"], "")} for row in rows]

    def _cell(self, name: str, row: dict[str, Any], words: dict[str, str]) -> Cell:
        value = row.get(name)
        text = words.get(value, "") if isinstance(value, str) else ""
        text = text or shown_value(in_own_words(name, value))
        if name in LENGTHS and text:
            text = size_text(float(text))
        elif name in NUMBERS:
            text = localized(text)
        return Cell(text, self._address(name, row) if text else "", kind_of(name))

    def _address(self, name: str, row: dict[str, Any]) -> str:
        column, page = ACTS.get(self.name, ("", ""))
        if name == column:
            return reverse(page, args=[row["id"]])
        opens = TAGS.get(self.name, "") if name == "tag" else OPENS.get(name, "")
        return reverse(opens, args=[row[name]]) if opens and isinstance(row[name], str) else ""

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


def kind_of(column: str) -> str:
    return "n" if column in NUMBERS else ""


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

"""A search as the page shows it: hits with their free pieces, and what was understood, to be changed piece by piece."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

from django.db.models import QuerySet, Sum
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from api.screens.search_hits import MOST_SHOWN, Hit
from api.wording.vocabulary import WORDS
from inventory.descriptions.query import QueryFilter, QueryReading, query_text
from inventory.models import PartKind, StockLevel
from inventory.models.access_scope import in_storerooms

LABELS = {
    "kind": _("part"),
    "chain": _("chain"),
    "pitch_mm": _("pitch"),
    "strands": _("strands"),
    "teeth": _("teeth"),
    "bush_size": _("bush"),
    "bore_mm": _("bore"),
    "hub_style": _("hub type"),
    "role_kind": _("role"),
    "bore_type": _("bore"),
    "hardened_teeth": _("hardened teeth"),
    "material": _("material"),
}


@dataclass(frozen=True)
class FreeShelf:
    """Free pieces of an item in a storeroom; without a bin where none is recorded."""

    storeroom: str
    bin: str
    free: int


@dataclass(frozen=True)
class Chip:
    """One thing that was understood, with the address of the same question without it."""

    label: str
    address: str


@dataclass(frozen=True)
class SearchResult:
    """`is_near` where nothing has that name and these come close; `is_cut` where more than these match.

    `reading` is what the question was understood as where its attributes were looked for; `unmet` are words of it that none of them has.
    """

    text: str
    hits: tuple[Hit, ...]
    is_near: bool = False
    is_cut: bool = False
    reading: QueryReading = field(default_factory=lambda: QueryReading((), ()))
    unmet: tuple[str, ...] = ()

    @property
    def only(self) -> Hit | None:
        is_plain = len(self.hits) == 1 and not self.is_near and not self.reading.filters
        return self.hits[0] if is_plain and self.hits[0].address else None

    @property
    def shown(self) -> tuple[Hit, ...]:
        return self.hits[:MOST_SHOWN]

    @property
    def left_out(self) -> int:
        return len(self.hits) - len(self.shown)

    @property
    def rows(self) -> list[tuple[Hit, list[FreeShelf]]]:
        """The hits shown, items with the shelves on which free pieces of them lie."""
        shelves = shelves_of([hit.name for hit in self.shown if hit.kind == "item"])
        return [(hit, shelves.get(hit.name, []) if hit.kind == "item" else []) for hit in self.shown]

    @property
    def chips(self) -> list[Chip]:
        filters, words = self.reading.filters, self.reading.words
        of_filters = [
            Chip(_shown(one), _address(query_text([other for other in filters if other is not one], words)))
            for one in filters
        ]
        of_words = [
            Chip(word, _address(query_text(filters, [other for other in words if other is not word])))
            for word in words
            if word not in self.unmet
        ]
        return of_filters + of_words

    @property
    def narrower(self) -> list[Chip]:
        """The same question for each chain of a pitch that was asked for."""
        filters = self.reading.filters
        return [
            Chip(
                name,
                _address(
                    query_text(
                        [QueryFilter("chain", (name,)) if other is one else other for other in filters],
                        self.reading.words,
                    )
                ),
            )
            for one in filters
            for name in one.narrower or (map(str, one.values) if len(one.values) > 1 else ())
        ]

    @property
    def words_alone(self) -> str:
        return _address(self.text, words_alone=True)


def _address(text: str, *, words_alone: bool = False) -> str:
    asked = {"q": text} | ({"as": "words"} if words_alone else {})
    return f"{reverse('screens:home')}?{urlencode(asked)}"


def _shown(one: QueryFilter) -> str:
    unit = " mm" if one.name.endswith("_mm") else ""
    if one.name == "hardened_teeth":
        return str(LABELS[one.name])
    values = " / ".join(f"{_value_shown(one.name, value)}{unit}" for value in one.values)
    return values if one.name == "kind" else f"{LABELS[one.name]} {values}"


def _value_shown(name: str, value: str | float) -> str:
    if isinstance(value, str):
        return str(PartKind(value).label) if name == "kind" else str(WORDS.get(value, value))
    return f"{value:g}"


def shelves_of(stock_numbers: Sequence[str]) -> dict[str, list[FreeShelf]]:
    """Free pieces of these items by storeroom and bin, new and used together, in one query."""
    found: dict[str, list[FreeShelf]] = {}
    if not stock_numbers:
        return found
    levels = in_storerooms(StockLevel.objects.available().with_available())
    columns = ("item__stock_number", "storeroom__code", "bin__code")
    rows: QuerySet[Any] = levels.filter(item__stock_number__in=stock_numbers).order_by().values_list(*columns)
    for number, storeroom, place, free in rows.annotate(pieces=Sum("free")).order_by("-pieces", *columns):
        found.setdefault(number, []).append(FreeShelf(storeroom, place or "", free))
    return found

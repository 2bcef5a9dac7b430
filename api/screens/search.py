"""From a typed or scanned text to positions, drives and items; spaces, dashes, case and one wrong letter do not matter."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any
from urllib.parse import urlencode

from django.db.models import F, Model, Q, QuerySet, Sum, Value
from django.db.models.expressions import RawSQL
from django.db.models.functions import Coalesce, NullIf
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from rapidfuzz.distance import OSA

from api.edge.scope import visible_to_caller
from drives.models import Drive, Position, WorkOrder
from drives.substitutes.asked_positions import of_drives, of_positions
from inventory.catalogue.asked_parts import of_items
from inventory.descriptions.query import QueryFilter, QueryReading, query_text, read_query
from inventory.models import Bin, Item, PartKind, StockLevel, SupplyOrder
from inventory.models.access_scope import in_storerooms
from inventory.models.text_index import TextOf, among, known_words, normal
from inventory.plumbing.text_search import rows_with_words

LONGEST_TEXT = 120
LONGEST_NAME = 60
SHORTEST_WORD_WITH_TYPO = 4
SHORTEST_CODE = 3
"""Of a bin, a supply order or a work order, and it has a digit."""
SHORTEST_START = 2
"""Single letters alone find what begins with them; they are in nearly everything."""
MOST_SHOWN = 40
MOST_COUNTED = 1_000
"""Of each kind; where more match, the first of them are shown and the rest is not counted."""
LETTERS = "abcdefghijklmnopqrstuvwxyz0123456789äöü"
KINDS = {"position": _("Position"), "drive": _("Drive"), "item": _("Item")}
MOST_READ = 400
"""Of rows with a common word, before those are left out that have it only across words."""
MOST_PLACES_BESIDE = 10
"""Positions and drives on the page of hits by attributes, where there are many items too."""
LABELS = {
    "kind": _("part"),
    "chain": _("chain"),
    "pitch_mm": _("pitch"),
    "strands": _("strands"),
    "teeth": _("teeth"),
    "bush_size": _("bush"),
    "bore_mm": _("bore"),
    "hub_style": _("hub type"),
}
CONDITIONS: dict[type[Model], Callable[[Sequence[QueryFilter]], Q | None]] = {
    Item: of_items,
    Position: of_positions,
    Drive: of_drives,
}
PARTS_OF_WORD = re.compile(r"[\W_]+")


@dataclass(frozen=True)
class Hit:
    kind: str
    name: str
    description: str
    other_names: tuple[str, ...] = ()

    @property
    def address(self) -> str:
        return reverse(f"screens:{self.kind}", args=[self.name])

    @property
    def kind_label(self) -> str:
        return str(KINDS[self.kind])

    @cached_property
    def keys(self) -> tuple[str, ...]:
        return tuple(normal(name) for name in (self.name, *self.other_names) if name)

    @cached_property
    def text(self) -> str:
        return " ".join((self.name, *self.other_names, self.description))

    @cached_property
    def tokens(self) -> frozenset[str]:
        return frozenset(normal(word) for word in self.text.split()) | frozenset(self.keys)

    @cached_property
    def words(self) -> frozenset[str]:
        """Its words, and the parts of those that a dash or stroke divides."""
        return self.tokens | {
            normal(part) for word in self.text.split() for part in PARTS_OF_WORD.split(word) if part
        }

    def has(self, word: str) -> bool:
        """Whether it has the word, or a piece of a word; a single letter or digit is a word of its own."""
        if len(word) < SHORTEST_START:
            return word in self.words
        return any(word in own for own in self.tokens)

    def whole_words(self, words: Iterable[str]) -> int:
        return sum(word in self.words for word in words)


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
class Source:
    """One kind of record: how its hits are read, and which columns name it."""

    model: type[Model]
    names: tuple[str, ...]
    columns: tuple[str, ...]
    hit: Callable[..., Hit]
    text: tuple[Any, ...] = ()
    """What its text is made of, where that is not every column."""

    def rows(self) -> QuerySet[Any]:
        return visible_to_caller(self.model._default_manager.all()).order_by(self.names[0])

    def named(self, keys: Iterable[str]) -> list[Hit]:
        """What is called by one of these normal forms."""
        wanted = list(keys)
        return self.hits(*(among(f"{name}__normal", wanted) & _filled(name) for name in self.names))

    def hits(self, *conditions: Q) -> list[Hit]:
        """What meets one of the conditions, each of which an index answers: asked for "one or the other", SQLite reads the table.

        Sorted here: asked for an order, it would rather walk the table in it than look up the few that are meant.
        """
        first, *others = (
            self.rows().order_by().filter(condition).values_list(*self.columns) for condition in conditions
        )
        rows = first.union(*others) if others else first
        return sorted((self.hit(*row) for row in rows), key=lambda hit: hit.name)

    def with_words(self, words: Sequence[Sequence[str]], key: str) -> tuple[list[Hit], bool]:
        """Rows with each word in one of its forms, and whether there are more than these: then those that begin with the key, and the first."""
        keys = rows_with_words(self.model, self.columns, words, MOST_COUNTED)
        if keys is not None:
            return self.hits(among("pk", keys)), False
        rows = self.rows().annotate(searched=TextOf(*(self.text or map(F, self.columns))))
        for forms in words:
            rows = rows.filter(Q(*(Q(searched__contains=form) for form in forms), _connector=Q.OR))
        first = [self.hit(*row) for row in rows.values_list(*self.columns)[: MOST_READ + 1]]
        return [*self.beginning_with(key), *first], len(first) > MOST_READ

    def with_attributes(self, filters: Sequence[QueryFilter], words: Sequence[str]) -> tuple[list[Hit], bool]:
        """Rows that have all of it and every word, and whether there are more than are counted."""
        condition = CONDITIONS[self.model](filters)
        if condition is None:
            return [], False
        rows = self.rows().order_by().filter(condition)
        keys = rows_with_words(self.model, self.columns, [[word] for word in words]) if words else None
        if keys is not None:
            rows = rows.filter(among("pk", keys))
        elif words:
            rows = rows.annotate(searched=TextOf(*(self.text or map(F, self.columns))))
            rows = rows.filter(*(Q(searched__contains=word) for word in words))
        found = [self.hit(*row) for row in rows.values_list(*self.columns)[: MOST_COUNTED + 1]]
        return [hit for hit in found if all(map(hit.has, words))], len(found) > MOST_COUNTED

    def beginning_with(self, key: str) -> list[Hit]:
        found: list[Hit] = []
        for name in self.names:
            column = f"{name}__normal"
            begins = Q(**{f"{column}__gte": key, f"{column}__lt": key + chr(0x10FFFF)})
            rows = self.rows().filter(begins & _filled(name))
            found += [self.hit(*row) for row in rows.order_by(column).values_list(*self.columns)[:MOST_SHOWN]]
        return found


def _filled(name: str) -> Q:
    """In the words of the index of an optional name: a parameter would hide from SQLite that the index answers."""
    return Q(**{f"{name}__gt": RawSQL("''", [])})


def _once(*parts: str) -> str:
    """The parts in a row, without one that an earlier one says already."""
    said: list[str] = []
    for part in parts:
        if part and not any(part.casefold() in other.casefold() for other in said):
            said.append(part)
    return ", ".join(said)


SOURCES = (
    Source(
        Position,
        ("tag",),
        ("tag", "name", "drive__name"),
        lambda tag, name, drive: Hit("position", tag, name or drive),
        (F("tag"), Coalesce(NullIf("name", Value("")), "drive__name")),
    ),
    Source(
        Drive,
        ("tag",),
        ("tag", "name", "equipment__tag", "equipment__name"),
        lambda tag, name, equipment, machine: Hit("drive", tag, _once(name, machine, equipment)),
    ),
    Source(
        Item,
        ("stock_number", "maker_part_number"),
        ("stock_number", "description", "maker_part_number", "maker"),
        lambda number, words, maker_number, maker: Hit(
            "item", number, _once(words, maker, maker_number), (maker_number,)
        ),
        # As the index has it: by its statistics PostgreSQL knows that many rows have a word, and does not read them all.
        tuple(map(F, ("stock_number", "description", "maker", "maker_part_number"))),
    ),
)


ITEM_SOURCE = next(source for source in SOURCES if source.model is Item)
BY_ATTRIBUTES = tuple(reversed(SOURCES))
KIND_ORDER = ("item", "position", "drive")


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
        return self.hits[0] if len(self.hits) == 1 and not self.is_near and not self.reading.filters else None

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
    values = " / ".join(f"{_value_shown(value)}{unit}" for value in one.values)
    return values if one.name == "kind" else f"{LABELS[one.name]} {values}"


def _value_shown(value: str | float) -> str:
    if isinstance(value, str):
        return str(PartKind(value).label) if value in PartKind.values else value
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


def search(text: str, *, words_alone: bool = False) -> SearchResult:
    """Names that are equal, else what is behind the code of a bin or an order, else what has the attributes, else by start or by every word, else one typing error away.

    Each is found by an index.
    """
    text = " ".join(text.replace("\x00", " ").split())[:LONGEST_TEXT]
    key = normal(text)
    if not key:
        return SearchResult(text, ())
    equal = [hit for source in SOURCES for hit in source.named([key])]
    if equal:
        return SearchResult(text, tuple(equal))
    if coded := _by_code(key):
        return SearchResult(text, tuple(coded))
    reading = QueryReading((), ()) if words_alone else read_query(text)
    if reading.filters and (found := _with_attributes(text, reading)):
        return found
    words = [word for word in map(normal, text.split()) if word]
    if all(len(word) < SHORTEST_START for word in words):
        begun = [source.beginning_with(key) for source in SOURCES]
        hits = dict.fromkeys(hit for some in begun for hit in some)
        return SearchResult(text, tuple(hits), is_cut=any(len(some) >= MOST_SHOWN for some in begun))
    plain, is_cut = _matching(key, words)
    if plain:
        return SearchResult(text, tuple(plain), is_cut=is_cut)
    if named := _named_nearly(key):
        return SearchResult(text, tuple(named), is_near=True)
    if reading.filters:
        return SearchResult(text, (), reading=reading)
    near, is_cut = _near(key, words)
    return SearchResult(text, tuple(near), is_near=True, is_cut=is_cut)


def _by_code(key: str) -> list[Hit]:
    """What lies in the bin, is on the supply order, or where the work order is done, that is called so."""
    if len(key) < SHORTEST_CODE or not any(letter.isdigit() for letter in key):
        return []
    found: list[Hit] = []
    if bins := _called(Bin, "code", key):
        rows = Item.objects.filter(pk__in=StockLevel.objects.filter(bin__in=bins).values("item"))
        columns = ("stock_number", "description", "maker_part_number", "maker")
        found += [ITEM_SOURCE.hit(*row) for row in rows.order_by("stock_number").values_list(*columns)]
    if orders := _called(SupplyOrder, "external_id", key):
        lines = SupplyOrder.objects.filter(pk__in=orders).order_by("item__stock_number")
        words = _("supply order")
        found += [
            Hit("item", number, f"{words} {order}: {described}")
            for number, order, described in lines.values_list(
                "item__stock_number", "external_id", "item__description"
            )
        ]
    if jobs := _called(WorkOrder, "external_id", key):
        places = WorkOrder.objects.filter(pk__in=jobs, position__isnull=False).order_by("position__tag")
        words = _("work order")
        found += [
            Hit("position", tag, f"{words} {order}: {title}")
            for tag, order, title in places.values_list("position__tag", "external_id", "title")
        ]
    return list(dict.fromkeys(found))


def _called(model: type[Model], column: str, key: str) -> list[Any]:
    """Keys of the rows whose column is this, however it is spaced, of those that the caller may see."""
    keys = rows_with_words(model, (column,), [[key]], MOST_COUNTED)
    if not keys:
        return []
    rows = visible_to_caller(model._default_manager.filter(among("pk", keys)))
    return [pk for pk, name in rows.order_by().values_list("pk", column) if normal(name) == key]


def _with_attributes(text: str, reading: QueryReading) -> SearchResult | None:
    """Hits with the attributes and as many of the words as any of them has; those with the typed words whole come first."""
    typed = {word: normal(word) for word in reading.words if normal(word)}
    found = [source.with_attributes(reading.filters, list(typed.values())) for source in BY_ATTRIBUTES]
    hits, unmet = [hit for some, _cut in found for hit in some], []
    if not hits and typed:
        found = [source.with_attributes(reading.filters, []) for source in BY_ATTRIBUTES]
        hits = [hit for some, _cut in found for hit in some]
        for word, form in typed.items():
            having = [hit for hit in hits if hit.has(form)]
            hits = having or hits
            unmet += [] if having else [word]
    if not hits:
        return None
    whole = {normal(word) for word in text.split()}
    kinds = [KIND_ORDER.index(hit.kind) for hit in hits]
    order = sorted(range(len(hits)), key=lambda at: (kinds[at], -hits[at].whole_words(whole), hits[at].name))
    items = [hits[at] for at in order if hits[at].kind == "item"]
    places = [hits[at] for at in order if hits[at].kind != "item"]
    first = max(MOST_SHOWN - min(len(places), MOST_PLACES_BESIDE), 0)
    some = (*items[:first], *places, *items[first:])
    return SearchResult(
        text, some, is_cut=any(cut for _some, cut in found), reading=reading, unmet=tuple(unmet)
    )


def _matching(key: str, words: Sequence[str]) -> tuple[list[Hit], bool]:
    """What begins with the text, then what has every word of it."""
    found = [source.with_words([[word] for word in words], key) for source in SOURCES]
    starting, wording = [], []
    for hit in dict.fromkeys(hit for hits, _cut in found for hit in hits):
        if any(own.startswith(key) for own in hit.keys):
            starting.append(hit)
        elif all(map(hit.has, words)):
            wording.append(hit)
    wording.sort(key=lambda hit: -hit.whole_words(words))
    return starting + wording, any(is_cut for _, is_cut in found)


def _named_nearly(key: str) -> list[Hit]:
    """Names one typing error away."""
    slips = one_typo_away(key)
    return [hit for source in SOURCES for hit in source.named(slips)] if slips else []


def _near(key: str, words: Sequence[str]) -> tuple[list[Hit], bool]:
    """Where every word is at most one typing error from a word of theirs."""
    meant = _meant_by(words)
    found = [source.with_words(meant, key) for source in SOURCES]
    hits = [hit for some, _ in found for hit in some if all(_has(hit, word) for word in words)]
    return hits, any(is_cut for _, is_cut in found)


def one_typo_away(word: str) -> list[str]:
    """One letter wrong, missing, too many or swapped with its neighbour."""
    if not SHORTEST_WORD_WITH_TYPO <= len(word) <= LONGEST_NAME:
        return []
    letters = {*LETTERS, *word}
    splits = [(word[:at], word[at:]) for at in range(len(word) + 1)]
    found = {left + right[1:] for left, right in splits if right}
    found |= {left + right[1] + right[0] + right[2:] for left, right in splits if len(right) > 1}
    found |= {left + letter + right[1:] for left, right in splits if right for letter in letters}
    found |= {left + letter + right for left, right in splits for letter in letters}
    return sorted(found)


def _meant_by(words: Sequence[str]) -> list[list[str]]:
    """Each word with the words and names on record that it may be a slip of."""
    slips = {word: set(one_typo_away(word)) for word in words}
    every = sorted(set().union(*slips.values()))
    if not every:
        return [[word] for word in words]
    named = {key for source in SOURCES for hit in source.named(every) for key in hit.keys}
    there = named.union(known_words(every, Item))
    return [[word, *sorted(slips[word] & there)] for word in words]


def _has(hit: Hit, word: str) -> bool:
    return hit.has(word) or any(_is_one_typo(word, token) for token in hit.tokens)


def _is_one_typo(word: str, other: str) -> bool:
    if len(word) < SHORTEST_WORD_WITH_TYPO or abs(len(word) - len(other)) > 1:
        return False
    return OSA.distance(word, other, score_cutoff=1) <= 1

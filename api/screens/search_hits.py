"""What a search finds: positions, drives and items by name, by words and by attributes, each by an index."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import F, Model, Q, QuerySet, Value
from django.db.models.expressions import RawSQL
from django.db.models.functions import Coalesce, NullIf
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from api.edge.scope import visible_to_caller
from drives.models import Drive, Position
from drives.substitutes.asked_positions import of_drives, of_positions
from inventory.catalogue.asked_parts import of_items
from inventory.descriptions.query import QueryFilter
from inventory.models import Item
from inventory.models.text_index import TextOf, among, normal, normal_words
from inventory.plumbing.text_search import rows_with_words

SHORTEST_START = 2
"""Single letters alone find what begins with them; they are in nearly everything."""
MOST_SHOWN = 40
MOST_COUNTED = 1_000
"""Of each kind; where more match, the first of them are shown and the rest is not counted."""
MOST_READ = 400
"""Of rows with a common word, before those are left out that have it only across words."""
KINDS = {
    "position": _("Position"),
    "drive": _("Drive"),
    "item": _("Item"),
    "work_order": _("Work order"),
    "delivery": _("Supply order"),
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
    key: int = 0
    """Of a record whose page is not found by its name."""

    @property
    def address(self) -> str:
        """Empty where no page shows it: a work order without a position."""
        if self.kind == "work_order":
            return ""
        if self.kind == "delivery":
            return reverse("screens:delivery", args=[self.key])
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
        return frozenset(normal_words(self.text)) | frozenset(self.keys)

    @cached_property
    def words(self) -> frozenset[str]:
        """Its words, and the parts of those that a dash or stroke divides."""
        parts = PARTS_OF_WORD.split(self.text.lower().replace("ß", "ss"))
        return self.tokens | frozenset(filter(None, parts))

    def has(self, word: str) -> bool:
        """Whether it has the word, or a piece of a word; a single letter or digit is a word of its own."""
        if len(word) < SHORTEST_START:
            return word in self.words
        return any(word in own for own in self.tokens)

    def whole_words(self, words: Iterable[str]) -> int:
        return sum(word in self.words for word in words)


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

    def with_attributes(self, condition: Q, words: Sequence[str]) -> tuple[list[Hit], bool]:
        """Rows that meet it and have every word, and whether there are more than are counted."""
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

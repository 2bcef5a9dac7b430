"""From a typed or scanned text to positions, drives and items; spaces, dashes, case and one wrong letter do not matter."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import F, Model, Q, QuerySet, Value
from django.db.models.expressions import RawSQL
from django.db.models.functions import Coalesce, NullIf
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from rapidfuzz.distance import OSA

from api.edge.scope import visible_to_caller
from drives.models import Drive, Position
from inventory.models import Item
from inventory.models.text_index import TextOf, among, known_words, normal
from inventory.plumbing.text_search import rows_with_words

LONGEST_TEXT = 120
LONGEST_NAME = 60
SHORTEST_WORD_WITH_TYPO = 4
SHORTEST_START = 2
"""Single letters alone find what begins with them; they are in nearly everything."""
MOST_SHOWN = 40
MOST_COUNTED = 1_000
"""Of each kind; where more match, the first of them are shown and the rest is not counted."""
LETTERS = "abcdefghijklmnopqrstuvwxyz0123456789äöü"
KINDS = {"position": _("Position"), "drive": _("Drive"), "item": _("Item")}


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
    def normal_text(self) -> str:
        return normal(self.text)

    @cached_property
    def tokens(self) -> frozenset[str]:
        return frozenset(normal(word) for word in self.text.split()) | frozenset(self.keys)


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
        first = [self.hit(*row) for row in rows.values_list(*self.columns)[: MOST_SHOWN + 1]]
        return [*self.beginning_with(key), *first], len(first) > MOST_SHOWN

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


@dataclass(frozen=True)
class SearchResult:
    """`is_near` where nothing has that name and these come close; `is_cut` where more than these match."""

    text: str
    hits: tuple[Hit, ...]
    is_near: bool = False
    is_cut: bool = False

    @property
    def only(self) -> Hit | None:
        return self.hits[0] if len(self.hits) == 1 and not self.is_near else None

    @property
    def shown(self) -> tuple[Hit, ...]:
        return self.hits[:MOST_SHOWN]

    @property
    def left_out(self) -> int:
        return len(self.hits) - len(self.shown)


def search(text: str) -> SearchResult:
    """Names that are equal, else by their start or by every word, else one typing error away. Each is found by an index."""
    text = " ".join(text.replace("\x00", " ").split())[:LONGEST_TEXT]
    key = normal(text)
    if not key:
        return SearchResult(text, ())
    equal = [hit for source in SOURCES for hit in source.named([key])]
    if equal:
        return SearchResult(text, tuple(equal))
    words = [word for word in map(normal, text.split()) if word]
    if all(len(word) < SHORTEST_START for word in words):
        begun = [source.beginning_with(key) for source in SOURCES]
        hits = dict.fromkeys(hit for some in begun for hit in some)
        return SearchResult(text, tuple(hits), is_cut=any(len(some) >= MOST_SHOWN for some in begun))
    plain, is_cut = _matching(key, words)
    if plain:
        return SearchResult(text, tuple(plain), is_cut=is_cut)
    near, is_cut = _near(key, words)
    return SearchResult(text, tuple(near), is_near=True, is_cut=is_cut)


def _matching(key: str, words: Sequence[str]) -> tuple[list[Hit], bool]:
    """What begins with the text, then what has every word of it."""
    found = [source.with_words([[word] for word in words], key) for source in SOURCES]
    starting, wording = [], []
    for hit in dict.fromkeys(hit for hits, _cut in found for hit in hits):
        if any(own.startswith(key) for own in hit.keys):
            starting.append(hit)
        elif all(word in hit.normal_text for word in words):
            wording.append(hit)
    return starting + wording, any(is_cut for _, is_cut in found)


def _near(key: str, words: Sequence[str]) -> tuple[list[Hit], bool]:
    """Names one typing error away; if there is none, those where every word is at most one error from a word of theirs."""
    slips = one_typo_away(key)
    by_key = [hit for source in SOURCES for hit in source.named(slips)] if slips else []
    if by_key:
        return by_key, False
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
    return any(word in token or _is_one_typo(word, token) for token in hit.tokens)


def _is_one_typo(word: str, other: str) -> bool:
    if len(word) < SHORTEST_WORD_WITH_TYPO or abs(len(word) - len(other)) > 1:
        return False
    return OSA.distance(word, other, score_cutoff=1) <= 1

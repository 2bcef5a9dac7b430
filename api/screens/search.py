"""From a typed or scanned text to positions, drives and items; spaces, dashes, case and one wrong letter do not matter."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from rapidfuzz.distance import OSA

from api.edge.scope import visible_to_caller
from drives.models import Drive, Position
from inventory.models import Item

LONGEST_TEXT = 120
SHORTEST_WORD_WITH_TYPO = 4
SHORTEST_START = 2
MOST_SHOWN = 40
KINDS = {"position": _("Position"), "drive": _("Drive"), "item": _("Item")}
_IGNORED = re.compile(r"[\W_]+")


def squeezed(text: str) -> str:
    """The letters and digits alone, in lower case."""
    return _IGNORED.sub("", text.casefold())


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
        return tuple(squeezed(name) for name in (self.name, *self.other_names) if name)

    @cached_property
    def text(self) -> str:
        return " ".join((self.name, *self.other_names, self.description)).casefold()

    @cached_property
    def squeezed_text(self) -> str:
        return squeezed(self.text)

    @cached_property
    def tokens(self) -> frozenset[str]:
        return frozenset(squeezed(word) for word in self.text.split()) | frozenset(self.keys)


@dataclass(frozen=True)
class SearchResult:
    """`is_near` where nothing has that name and these come close."""

    text: str
    hits: tuple[Hit, ...]
    is_near: bool = False

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
    """Three queries: names that are equal, else by their start or by every word, else one typing error away."""
    text = " ".join(text.replace("\x00", " ").split())[:LONGEST_TEXT]
    key = squeezed(text)
    if not key:
        return SearchResult(text, ())
    everything = list(_everything())
    equal = [hit for hit in everything if key in hit.keys]
    if equal:
        return SearchResult(text, tuple(equal))
    plain = _matching(everything, key, text.casefold().split())
    if plain:
        return SearchResult(text, tuple(plain))
    return SearchResult(text, tuple(_near(everything, key, text)), is_near=True)


def _everything() -> Iterator[Hit]:
    for tag, name, drive in visible_to_caller(Position.objects.all()).values_list(
        "tag", "name", "drive__name"
    ):
        yield Hit("position", tag, name or drive)
    for tag, name, equipment, machine in visible_to_caller(Drive.objects.all()).values_list(
        "tag", "name", "equipment__tag", "equipment__name"
    ):
        yield Hit("drive", tag, _once(name, machine, equipment))
    for number, words, maker_number, maker in Item.objects.values_list(
        "stock_number", "description", "maker_part_number", "maker"
    ):
        yield Hit("item", number, _once(words, maker, maker_number), (maker_number,))


def _once(*parts: str) -> str:
    """The parts in a row, without one that an earlier one says already."""
    said: list[str] = []
    for part in parts:
        if part and not any(part.casefold() in other.casefold() for other in said):
            said.append(part)
    return ", ".join(said)


def _matching(everything: Iterable[Hit], key: str, words: list[str]) -> list[Hit]:
    starting, wording = [], []
    for hit in everything:
        if len(key) >= SHORTEST_START and any(own.startswith(key) for own in hit.keys):
            starting.append(hit)
        elif all(word in hit.text or (squeezed(word) or word) in hit.squeezed_text for word in words):
            wording.append(hit)
    return starting + wording


def _near(everything: list[Hit], key: str, text: str) -> list[Hit]:
    """Names one typing error away; if there is none, those where every word is at most one error from a word of theirs."""
    by_key = [hit for hit in everything if any(_is_one_typo(key, own) for own in hit.keys)]
    if by_key:
        return by_key
    words = [squeezed(word) for word in text.split() if squeezed(word)]
    vocabulary = frozenset[str]().union(*(hit.tokens for hit in everything)) if everything else frozenset()
    meant = [frozenset(token for token in vocabulary if _may_mean(word, token)) for word in words]
    return [hit for hit in everything if all(hit.tokens & tokens for tokens in meant)]


def _is_one_typo(word: str, other: str) -> bool:
    """One letter wrong, missing, too many or swapped with its neighbour."""
    if len(word) < SHORTEST_WORD_WITH_TYPO or abs(len(word) - len(other)) > 1:
        return False
    return OSA.distance(word, other, score_cutoff=1) <= 1


def _may_mean(word: str, token: str) -> bool:
    return (
        word in token if len(word) < SHORTEST_WORD_WITH_TYPO else _is_one_typo(word, token) or word in token
    )

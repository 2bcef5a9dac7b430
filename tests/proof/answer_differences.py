"""Compare two files of saved answers.

Numbers must be equal (floating-point numbers to 1e-12 of the larger), as must words, dates, the order of lists and whether
a member is null. A new member, and an answer that only the new file has, is no difference.

Texts for people (`TEXTS`) may be reworded, but not appear or disappear. A value without a space is a word or a key, not a
text, and is compared. A phrase for what is required or offered (`PHRASES`: "pin 25 mm") may become a number or word that
it contains (25, "pin"). Members in `VOLATILE` are random, or depend on the address, and are not compared.
"""

import json
import math
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

CLOSE_ENOUGH = 1e-12
"""Sums may be taken in another order; a double carries about 16 digits."""
TEXTS = frozenset(
    (
        *("advice", "basis", "cautions", "detail", "explanation", "family", "generation", "installed_why"),
        *("max_hub_diameter_rule", "measure", "method", "needed", "note", "notes", "rating_confidence"),
        *("reason", "sentence", "since_last", "source", "title"),
    )
)
PHRASES = frozenset({"required", "offered"})
VOLATILE = frozenset({"request_id", "instance", "transfer", "secret", "next", "previous"})
NUMBER = re.compile(r"\d+(?:\.\d+)?")
SHOWN_LENGTH = 120


@dataclass(frozen=True)
class Exceptions:
    """What the reader of a comparison expects; names stand for themselves or, as `parent.name`, inside one parent."""

    renamed: dict[str, str] = field(default_factory=dict)
    words: frozenset[tuple[str, str]] = frozenset()
    ignored: frozenset[str] = frozenset()

    def new_names(self, parent: str, name: str) -> tuple[str, ...]:
        """What the member may be called in the new answer; the old name still counts."""
        new = self.renamed.get(f"{parent}.{name}", self.renamed.get(name))
        return (name,) if new is None else (new, name)

    def ignores(self, parent: str, name: str) -> bool:
        return name in VOLATILE or name in self.ignored or f"{parent}.{name}" in self.ignored


@dataclass(frozen=True)
class Place:
    """Where in an answer: `path` without the numbers of list elements, and the name of the member and its parent."""

    path: str = ""
    name: str = ""
    parent: str = ""

    def member(self, name: str) -> "Place":
        return Place(f"{self.path}.{name}".removeprefix("."), name, self.name)

    def element(self) -> "Place":
        return Place(f"{self.path}[]", self.name, self.parent)


@dataclass(frozen=True)
class Difference:
    path: str
    old: Any
    new: Any


@dataclass
class Differences:
    compared: int = 0
    found: dict[str, list[tuple[str, Difference]]] = field(default_factory=lambda: defaultdict(list))

    @property
    def count(self) -> int:
        return sum(len(rows) for rows in self.found.values())

    def add(self, name: str, difference: Difference) -> None:
        self.found[difference.path].append((name, difference))

    def by_place(self) -> Iterator[str]:
        """A line for each place, with its first answer: one renamed member is one line, however often it occurs."""
        for path, rows in sorted(self.found.items()):
            name, first = rows[0]
            times = f"{len(rows)} times, first in" if len(rows) > 1 else "in"
            yield f"{path}: {times} {name!r}: {shown(first.old)} -> {shown(first.new)}"


def read_answers(path: Path) -> dict[str, Any]:
    with path.open(encoding="utf-8") as file:
        answers = [json.loads(line) for line in file]
    return {answer.pop("name"): answer for answer in answers}


def compare(old: dict[str, Any], new: dict[str, Any], exceptions: Exceptions) -> Differences:
    found = Differences()
    for name, answer in old.items():
        if name not in new:
            found.add(name, Difference("(answer)", "saved", "missing"))
            continue
        found.compared += 1
        for difference in differences(answer, new[name], Place(), exceptions):
            found.add(name, difference)
    return found


def differences(old: Any, new: Any, place: Place, exceptions: Exceptions) -> Iterator[Difference]:
    if place.name in TEXTS and is_text(old):
        if bool(old) != bool(new):
            yield Difference(place.path, old, new)
    elif isinstance(old, dict) and isinstance(new, dict):
        yield from member_differences(old, new, place, exceptions)
    elif isinstance(old, list) and isinstance(new, list):
        yield from element_differences(old, new, place, exceptions)
    elif not is_same(old, new, exceptions.words) and not (place.name in PHRASES and is_named_in(old, new)):
        yield Difference(place.path, old, new)


def member_differences(
    old: dict[str, Any], new: dict[str, Any], place: Place, exceptions: Exceptions
) -> Iterator[Difference]:
    for name, value in old.items():
        if exceptions.ignores(place.name, name):
            continue
        inside = place.member(name)
        known = [one for one in exceptions.new_names(place.name, name) if one in new]
        if known:
            yield from differences(value, new[known[0]], inside, exceptions)
        else:
            yield Difference(inside.path, value, "missing")


def element_differences(
    old: list[Any], new: list[Any], place: Place, exceptions: Exceptions
) -> Iterator[Difference]:
    if len(old) != len(new):
        yield Difference(place.path, f"{len(old)} elements", f"{len(new)} elements")
        return
    for one, other in zip(old, new, strict=True):
        yield from differences(one, other, place.element(), exceptions)


def is_text(value: Any) -> bool:
    """Something to read: a sentence, or a list of sentences; empty where there is nothing to say."""
    if isinstance(value, list):
        return all(is_text(one) for one in value)
    return value is None or (isinstance(value, str) and (value == "" or " " in value.strip()))


def is_named_in(phrase: Any, value: Any) -> bool:
    """Whether the value is one of the numbers or words of the phrase."""
    if not isinstance(phrase, str) or isinstance(value, bool):
        return False
    if isinstance(value, int | float):
        return any(math.isclose(float(one), value) for one in NUMBER.findall(phrase))
    return isinstance(value, str) and value != "" and f" {spaced(value)} " in f" {spaced(phrase)} "


def spaced(text: str) -> str:
    return text.replace("_", " ").replace("-", " ")


def is_same(old: Any, new: Any, words: frozenset[tuple[str, str]]) -> bool:
    if isinstance(old, bool) or isinstance(new, bool):
        return old is new
    if isinstance(old, float) and isinstance(new, int | float):
        return math.isclose(old, new, rel_tol=CLOSE_ENOUGH)
    return old == new or (isinstance(old, str) and isinstance(new, str) and (old, new) in words)


def shown(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= SHOWN_LENGTH else f"{text[:SHOWN_LENGTH]}…"

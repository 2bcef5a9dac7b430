"""The trade's words in five languages: what a word or phrase means, also with a slip of one letter, glued or split."""

import csv
import re
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

from rapidfuzz import process
from rapidfuzz.distance import OSA

from inventory.descriptions.letters import key_of, spellings

TABLES = Path(__file__).parent / "tables"
SHORTEST_WITH_SLIP = 5
"""A slip of one letter in a shorter word gives too many other words. Judgement."""
SHORTEST_WITH_TWO_SLIPS = 7
SAYS_NOTHING = frozenset(
    {"filler", "place", "quantity", "money", "year", "part_number", "for", "with", "joiner", "weight"}
)
SHORTEST_GLUED = 3
LONGEST_GLUED = 30
SPACED_LETTERS = frozenset("AEYØ")
"""Single letters that are words or signs; others stand in an abbreviation: K/W, W/O."""
ATOM = re.compile(r"Ø|(?:(?!Ø)[^\W\d_])+")


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a word says: a topic with its value, and the languages in which it is said so."""

    topic: str
    value: str
    languages: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Lexicon:
    """Words by their letters, and phrases by their first word, the longest first."""

    words: dict[str, Meaning]
    phrases: dict[str, tuple[tuple[tuple[str, ...], Meaning], ...]]
    by_length: dict[int, tuple[str, ...]]
    parts: frozenset[str]


@cache
def lexicon_rows(name: str = "words") -> tuple[dict[str, str], ...]:
    with (TABLES / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return tuple(csv.DictReader(file))


@cache
def lexicon() -> Lexicon:
    words: dict[str, Meaning] = {}
    phrases: dict[str, dict[tuple[str, ...], Meaning]] = {}
    parts: set[str] = set()
    for row in lexicon_rows():
        meaning = Meaning(row["topic"], row["value"], tuple(row["language"].split()))
        for spelling in spellings(row["word"]):
            atoms = tuple(key_of(atom) for atom in ATOM.findall(spelling))
            parts.update(atoms)
            if len(atoms) == 1:
                words.setdefault(atoms[0], meaning)
            elif atoms:
                phrases.setdefault(atoms[0], {}).setdefault(atoms, meaning)
                glued = "".join(atoms)
                if len(glued) >= SHORTEST_WITH_SLIP:
                    words.setdefault(glued, meaning)
    by_length: dict[int, list[str]] = {}
    for word in parts:
        if len(word) >= SHORTEST_WITH_SLIP:
            by_length.setdefault(len(word), []).append(word)
    return Lexicon(
        words=words,
        phrases={
            first: tuple(sorted(found.items(), key=lambda one: -len(one[0])))
            for first, found in phrases.items()
        },
        by_length={length: tuple(sorted(found)) for length, found in by_length.items()},
        parts=frozenset(parts),
    )


def is_known(word: str) -> bool:
    found = lexicon()
    return word in found.words or word in found.parts


@lru_cache(maxsize=65_536)
def without_slip(word: str) -> str:
    """The one known word that is one letter away (changed, missing, added or two swapped), else the word itself."""
    if len(word) < SHORTEST_WITH_SLIP or is_known(word):
        return word
    return _one_meaning(_near(word, letters=1)) or word


@lru_cache(maxsize=65_536)
def one_slip_away(word: str) -> tuple[str, ...]:
    """Words of which this one may be a slip, whatever they say."""
    return () if len(word) < SHORTEST_WITH_SLIP or is_known(word) else tuple(_near(word, letters=1))


def _near(word: str, *, letters: int) -> list[str]:
    by_length = lexicon().by_length
    return [
        found[0]
        for length in sorted(
            range(len(word) - letters, len(word) + letters + 1), key=lambda one: abs(one - len(word))
        )
        for found in process.extract(
            word, by_length.get(length, ()), scorer=OSA.distance, score_cutoff=letters, limit=6
        )
    ]


def _one_meaning(near: list[str]) -> str | None:
    """The first of the words where all of them say the same; a part of a phrase says nothing by itself."""
    known = lexicon().words
    said = {(known[word].topic, known[word].value) if word in known else (word, "") for word in near}
    return near[0] if len(said) == 1 else None


@lru_cache(maxsize=65_536)
def resembles_attribute(word: str) -> bool:
    """Whether an unknown word may be a badly typed one that says something about the part."""
    if len(word) < SHORTEST_WITH_SLIP or is_known(word):
        return False
    letters = 2 if len(word) >= SHORTEST_WITH_TWO_SLIPS else 1
    known = lexicon().words
    return any(
        word not in known or known[word].topic not in SAYS_NOTHING for word in _near(word, letters=letters)
    )


@lru_cache(maxsize=65_536)
def unglued(word: str) -> tuple[str, ...]:
    """Known words that were typed without a space, at least three letters each; none where the word does not divide."""
    if not 2 * SHORTEST_GLUED <= len(word) <= LONGEST_GLUED or is_known(word):
        return ()
    best: list[tuple[str, ...] | None] = [()] + [None] * len(word)
    for end in range(SHORTEST_GLUED, len(word) + 1):
        for start in range(end - SHORTEST_GLUED + 1):
            head = best[start]
            if head is None or word[start:end] not in lexicon().words:
                continue
            found = best[end]
            if found is None or len(head) + 1 < len(found):
                best[end] = (*head, word[start:end])
    return best[-1] or ()

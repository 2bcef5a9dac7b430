"""Names and words that are one letter away from what was typed."""

from collections.abc import Sequence

from rapidfuzz.distance import OSA

from api.screens.search_hits import SOURCES, Hit
from inventory.models import Item
from inventory.models.text_index import known_words

SHORTEST_WORD_WITH_TYPO = 4
LONGEST_NAME = 60
LETTERS = "abcdefghijklmnopqrstuvwxyz0123456789äöü"


def named_nearly(key: str) -> list[Hit]:
    """Names one typing error away, those with the same letters in another order first."""
    slips = one_typo_away(key)
    found = [hit for source in SOURCES for hit in source.named(slips)] if slips else []
    return sorted(found, key=lambda hit: all(sorted(own) != sorted(key) for own in hit.keys))


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


def meant_by(words: Sequence[str]) -> list[list[str]]:
    """Each word with the words and names on record that it may be a slip of."""
    slips = {word: set(one_typo_away(word)) for word in words}
    every = sorted(set().union(*slips.values()))
    if not every:
        return [[word] for word in words]
    named = {key for source in SOURCES for hit in source.named(every) for key in hit.keys}
    there = named.union(known_words(every, Item))
    return [[word, *sorted(slips[word] & there)] for word in words]


def nearly_has(hit: Hit, word: str) -> bool:
    return hit.has(word) or any(_is_one_typo(word, token) for token in hit.tokens)


def _is_one_typo(word: str, other: str) -> bool:
    if len(word) < SHORTEST_WORD_WITH_TYPO or abs(len(word) - len(other)) > 1:
        return False
    return OSA.distance(word, other, score_cutoff=1) <= 1

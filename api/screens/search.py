"""From a typed or scanned text to positions, drives and items; spaces, dashes, case and one wrong letter do not matter."""

from collections.abc import Sequence
from itertools import product

from api.screens.search_codes import by_code, those_that_go_on
from api.screens.search_hits import CONDITIONS, MOST_SHOWN, SHORTEST_START, SOURCES, Hit
from api.screens.search_result import SearchResult
from api.screens.search_slips import meant_by, named_nearly, nearly_has
from inventory.descriptions.query import QueryReading, read_query
from inventory.models.text_index import normal, normal_forms

LONGEST_TEXT = 120
MOST_PLACES_BESIDE = 10
"""Positions and drives on the page of hits by attributes, where there are many items too."""
BY_ATTRIBUTES = tuple(reversed(SOURCES))
KIND_ORDER = ("item", "position", "drive")


def search(text: str, *, words_alone: bool = False) -> SearchResult:
    """Names that are equal, else what is behind the code of a bin or an order, else what has the attributes, else by start or by every word, else one typing error away.

    Each is found by an index.
    """
    text = " ".join(text.replace("\x00", " ").split())[:LONGEST_TEXT]
    key = normal(text)
    if not key:
        return SearchResult(text, ())
    equal = [hit for source in SOURCES for hit in source.named(normal_forms(text))]
    if equal:
        return SearchResult(text, (*those_that_go_on(equal), *equal))
    if coded := by_code(key):
        return SearchResult(text, tuple(coded))
    reading = QueryReading((), ()) if words_alone else read_query(text)
    # With all its words before without some, and what many records lack before its words.
    for with_words, one in product((True, False), reading.readings):
        if found := _with_attributes(text, one, with_words=with_words):
            return found
    words = [word for word in map(normal, text.split()) if word]
    if all(len(word) < SHORTEST_START for word in words):
        begun = [source.beginning_with(key) for source in SOURCES]
        hits = dict.fromkeys(hit for some in begun for hit in some)
        return SearchResult(text, tuple(hits), is_cut=any(len(some) >= MOST_SHOWN for some in begun))
    plain, is_cut = _matching(key, words)
    if plain:
        return SearchResult(text, tuple(plain), is_cut=is_cut)
    if named := named_nearly(key):
        return SearchResult(text, tuple(named), is_near=True)
    if reading.filters:
        return SearchResult(text, (), reading=reading)
    near, is_cut = _near(key, words)
    return SearchResult(text, tuple(near), is_near=True, is_cut=is_cut)


def _with_attributes(text: str, reading: QueryReading, *, with_words: bool) -> SearchResult | None:
    """Hits with the attributes, and with every word or with as many as any of them has; those with the typed words whole come first."""
    typed = {word: normal(word) for word in reading.words if normal(word)}
    if not with_words and not typed:
        return None
    asked = [(source, CONDITIONS[source.model](reading.filters)) for source in BY_ATTRIBUTES]
    words = list(typed.values()) if with_words else []
    found = [source.with_attributes(one, words) for source, one in asked if one is not None]
    hits, unmet = [hit for some, _cut in found for hit in some], []
    for word, form in [] if with_words else typed.items():
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


def _near(key: str, words: Sequence[str]) -> tuple[list[Hit], bool]:
    """Where every word is at most one typing error from a word of theirs."""
    meant = meant_by(words)
    found = [source.with_words(meant, key) for source in SOURCES]
    hits = [hit for some, _ in found for hit in some if all(nearly_has(hit, word) for word in words)]
    return hits, any(is_cut for _, is_cut in found)

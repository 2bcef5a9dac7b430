"""The sentence for a fact, in the reader's language: the one door to every sentence that is made from a code."""

from collections.abc import Iterable, Mapping
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from django.utils.timezone import get_current_timezone_name
from django.utils.translation import get_language

from api import wording
from api.wording.figures import Sentence, shown
from api.wording.lengths import inches_first
from inventory.facts import Fact, fact_from_json

ROOMS = [
    room
    for found in iter_modules(wording.__path__, f"{wording.__name__}.")
    if found.name != __name__ and hasattr(room := import_module(found.name), "SENTENCES")
]
"""Every module of this package that has sentences."""
SENTENCES: dict[str, Sentence] = {code: text for room in ROOMS for code, text in room.SENTENCES.items()}


MOST_KEPT = 5_000
_kept: dict[tuple[str | None, bool, str, str], str] = {}


def sentence(fact: Fact) -> str:
    """Kept by language, units and time zone, as the same facts come with nearly every candidate; by their text, in which 1 is not 1.0."""
    key = get_language(), inches_first.get(), get_current_timezone_name(), repr(fact)
    found = _kept.get(key)
    if found is None:
        if len(_kept) >= MOST_KEPT:
            _kept.clear()
        found = _kept[key] = _sentence(fact)
    return found


def _sentence(fact: Fact) -> str:
    template = SENTENCES[fact.code]
    values = {name: shown(value, sentence, name) for name, value in fact.items}
    return template(values) if callable(template) else str(template).format_map(values)


def sentences(facts: Iterable[Fact]) -> str:
    """Each sentence once, in order."""
    return " ".join(dict.fromkeys(sentence(fact) for fact in facts))


def stored_sentences(stored: Iterable[Mapping[str, Any]]) -> list[str]:
    """The sentences of facts that were stored as JSON."""
    return [sentence(fact_from_json(one)) for one in stored]


def with_explanations(value: Any) -> Any:
    """JSON in which every fact has its sentence beside it, as `explanation`."""
    if isinstance(value, list):
        return [with_explanations(one) for one in value]
    if not isinstance(value, Mapping):
        return value
    if isinstance(value.get("code"), str) and isinstance(value.get("values"), Mapping):
        return {**value, "explanation": sentence(fact_from_json(value))}
    return {name: with_explanations(one) for name, one in value.items()}

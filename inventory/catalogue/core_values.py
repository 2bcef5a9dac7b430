"""From a record to the value that the cores judge: lengths as floats, words as words, `None` where not known."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import fields
from decimal import Decimal
from enum import StrEnum
from functools import lru_cache
from typing import Any, TypeVar, get_args, get_type_hints

from django.db.models import QuerySet

from inventory.interchange.requirement import Engagement, Sprocket
from inventory.models import Specification
from inventory.models.engagement import ENGAGEMENT_LENGTHS, ChainEngagement
from inventory.standards.chains import Chain, find_chain

Word = TypeVar("Word", bound=StrEnum)
ROWS_AT_ONCE = 2_000


def number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def word_or_none(words: type[Word], value: str) -> Word | None:
    return words(value) if value else None


def engagement_of(record: ChainEngagement) -> Engagement | None:
    """The engagement of a record: its standard chain, or its own dimensions when all three are known."""
    return _engagement(record.chain_designation, *(getattr(record, name) for name in ENGAGEMENT_LENGTHS))


def _engagement(designation: str, *lengths_mm: Decimal | None) -> Engagement | None:
    if designation:
        return _standard_engagement(find_chain(designation))
    pitch_mm, roller_diameter_mm, inner_width_mm, transverse_pitch_mm = lengths_mm
    if pitch_mm is None or roller_diameter_mm is None or inner_width_mm is None:
        return None
    return Engagement(
        pitch_mm=float(pitch_mm),
        roller_diameter_mm=float(roller_diameter_mm),
        inner_width_mm=float(inner_width_mm),
        transverse_pitch_mm=number(transverse_pitch_mm),
    )


@lru_cache(maxsize=1024)
def _standard_engagement(chain: Chain) -> Engagement:
    return Engagement.of(chain)


WORDS: dict[str, type[StrEnum]] = {
    name: words
    for name, hint in get_type_hints(Sprocket).items()
    for words in get_args(hint)
    if isinstance(words, type) and issubclass(words, StrEnum)
}
ATTRIBUTES = tuple(spec.name for spec in fields(Sprocket) if spec.name != "chain")


def attributes_of(record: Specification) -> Sprocket:
    """The generic attributes of a sprocket record: each field of the core's value is a column of that name."""
    own = {name: core_value(name, getattr(record, name)) for name in ATTRIBUTES}
    return Sprocket(chain=engagement_of(record), **own)


def read_attributes(records: QuerySet[Specification]) -> Iterator[tuple[int, Sprocket]]:
    """The attributes of many records by their keys; equal values of a column are one object."""
    known: dict[str, dict[Any, Any]] = defaultdict(dict)
    columns = ("chain_designation", *ENGAGEMENT_LENGTHS, *ATTRIBUTES)
    for pk, *values in records.values_list("pk", *columns).iterator(ROWS_AT_ONCE):
        chain, own = tuple(values[:5]), {}
        for name, value in zip(ATTRIBUTES, values[5:], strict=True):
            if value is not None and value != "":
                found = known[name]
                own[name] = (
                    found[value] if value in found else found.setdefault(value, core_value(name, value))
                )
        chains = known["chain"]
        if chain not in chains:
            chains[chain] = _engagement(*chain)
        yield pk, Sprocket(chain=chains[chain], **own)


def core_value(name: str, value: Any) -> Any:
    if isinstance(value, Decimal):
        return float(value)
    if value == "":
        return None
    return WORDS[name](value) if name in WORDS else value

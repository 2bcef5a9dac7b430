"""From a record to the value that the cores judge: lengths as floats, words as words, `None` where not known."""

from dataclasses import fields
from decimal import Decimal
from enum import StrEnum
from functools import lru_cache
from typing import Any, TypeVar, get_args, get_type_hints

from inventory.interchange.requirement import Engagement, Sprocket
from inventory.models import Specification
from inventory.models.engagement import ChainEngagement
from inventory.standards.chains import Chain

Word = TypeVar("Word", bound=StrEnum)


def number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def word_or_none(words: type[Word], value: str) -> Word | None:
    return words(value) if value else None


def engagement_of(record: ChainEngagement) -> Engagement | None:
    """The engagement of a record: its standard chain, or its own dimensions when all three are known."""
    chain = record.standard_chain()
    if chain is not None:
        return _standard_engagement(chain)
    if record.pitch_mm is None or record.roller_diameter_mm is None or record.inner_width_mm is None:
        return None
    return Engagement(
        pitch_mm=float(record.pitch_mm),
        roller_diameter_mm=float(record.roller_diameter_mm),
        inner_width_mm=float(record.inner_width_mm),
        transverse_pitch_mm=number(record.transverse_pitch_mm),
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


def core_value(name: str, value: Any) -> Any:
    if isinstance(value, Decimal):
        return float(value)
    if value == "":
        return None
    return WORDS[name](value) if name in WORDS else value

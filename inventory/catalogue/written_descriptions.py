"""Descriptions of an item, written from its specification in each language and length."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from inventory.catalogue.described_items import COLUMNS
from inventory.descriptions.chain_of_line import shown_name
from inventory.descriptions.writer import LANGUAGES, write_description
from inventory.models import PartKind, Specification

CHARACTERS = (40, 200)
"""The short and the long text field of usual material masters."""


@dataclass(frozen=True)
class WrittenDescription:
    language: str
    characters: int
    text: str


def written_descriptions(specification: Specification | None) -> tuple[WrittenDescription, ...]:
    """None for what is no sprocket, or one without a chain or a tooth count."""
    if specification is None or specification.kind != PartKind.SPROCKET:
        return ()
    attributes = dict(_attributes(specification))
    if "chain" not in attributes or "teeth" not in attributes:
        return ()
    return tuple(
        WrittenDescription(
            language, characters, write_description(attributes, language=language, most_characters=characters)
        )
        for language in LANGUAGES
        for characters in CHARACTERS
    )


def _attributes(specification: Specification) -> Iterator[tuple[str, Any]]:
    """What is known, under the names that the trade uses for the chain: 40 rather than 08A."""
    for name, column in COLUMNS.items():
        value = getattr(specification, column)
        if value in (None, ""):
            continue
        if name == "chain":
            value = shown_name(value)
        yield name, float(value) if isinstance(value, Decimal) else value
    chain = specification.standard_chain()
    if chain is not None and chain.is_double_pitch:
        yield "teeth_counted", "actual"

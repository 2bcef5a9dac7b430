"""Facts on the wire: a member with the sentences, and one beside it with codes and values."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.edge.errors import Conflict, PointedErrors, pointer
from api.wording.sentences import sentence
from inventory.facts import Fact, Refusal, fact_from_json

FACT_SCHEMA = {
    "type": "object",
    "properties": {
        "code": {"type": "string", "description": "What was found."},
        "values": {
            "type": "object",
            "additionalProperties": {},
            "description": "How much; a value may be such an object again, or a list of them.",
        },
    },
    "required": ["code", "values"],
}


@extend_schema_field({"type": "string"})
class SentenceField(serializers.Field[Any, Any, Any, Any]):
    """Of one fact; empty where there is none."""

    def get_attribute(self, instance: Any) -> str:
        fact = super().get_attribute(instance)
        return "" if fact is None else sentence(fact)

    def to_representation(self, value: str) -> str:
        return value


@extend_schema_field({"type": "array", "items": {"type": "string"}})
class SentencesField(serializers.Field[Any, Any, Any, Any]):
    """Of facts, or of facts as they were stored."""

    def to_representation(self, value: Any) -> list[str]:
        return [sentence(one if isinstance(one, Fact) else fact_from_json(one)) for one in value]


@extend_schema_field({**FACT_SCHEMA, "type": ["object", "null"]})
class StoredFactField(serializers.Field[Any, Any, Any, Any]):
    """A fact as it was stored; null where none was."""

    def to_representation(self, value: Any) -> Any:
        return value or None


@extend_schema_field({"type": "array", "items": FACT_SCHEMA})
class FactsField(serializers.Field[Any, Any, Any, Any]):
    def to_representation(self, value: Any) -> list[Any]:
        return [one.as_json() if isinstance(one, Fact) else one for one in value]


@contextmanager
def fact_refusals() -> Iterator[None]:
    """A refusal as 400 for the field that has to change, or as 409 where it names none."""
    try:
        yield
    except Refusal as refusal:
        raise (field_refusal(refusal) if refusal.field else conflict(refusal)) from refusal


def conflict(refusal: Refusal) -> Conflict:
    """409 with the sentence as detail, and code and values beside it."""
    return Conflict(sentence(refusal.fact), **refusal.fact.as_json())


def field_refusal(refusal: Refusal) -> PointedErrors:
    """400 with a pointer to the field that has to change."""
    return PointedErrors({pointer(refusal.field): sentence(refusal.fact)}, **refusal.fact.as_json())

"""Facts on the wire: a member with the sentences, and one beside it with codes and values."""

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


@extend_schema_field({"type": "array", "items": {"type": "string"}})
class SentencesField(serializers.Field[Any, Any, Any, Any]):
    """Of facts, or of facts as they were stored."""

    def to_representation(self, value: Any) -> list[str]:
        return [sentence(one if isinstance(one, Fact) else fact_from_json(one)) for one in value]


@extend_schema_field({"type": "array", "items": FACT_SCHEMA})
class FactsField(serializers.Field[Any, Any, Any, Any]):
    def to_representation(self, value: Any) -> list[Any]:
        return [one.as_json() if isinstance(one, Fact) else one for one in value]


def conflict(refusal: Refusal) -> Conflict:
    """409 with the sentence as detail, and code and values beside it."""
    return Conflict(sentence(refusal.fact), **refusal.fact.as_json())


def field_refusal(refusal: Refusal) -> PointedErrors:
    """400 with a pointer to the field that has to change."""
    return PointedErrors({pointer(refusal.field): sentence(refusal.fact)}, **refusal.fact.as_json())

"""Facts on the wire: a member with the sentences, and one beside it with codes and values."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.wording.sentences import sentence
from inventory.facts import Fact, fact_from_json

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


def reason_with_sentence(stored: Mapping[str, Any]) -> dict[str, Any]:
    """Why a message waits. Reasons stored before they had codes hold their sentence, and keep it with an empty code."""
    if not stored.get("code"):
        return {**stored, "code": "", "values": {}}
    return {**stored, "detail": sentence(fact_from_json(stored))}


@extend_schema_field({"anyOf": [{"$ref": "#/components/schemas/FactCode"}, {"type": "string"}]})
class RefusalCodeField(serializers.CharField):
    """A code of the list, or the code of a validation such as `required`."""

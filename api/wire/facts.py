"""Facts on the wire: `code`, `values` and the sentence made from them, `explanation`."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.wording.sentences import sentence
from inventory.facts import Fact, fact, fact_from_json

StoredFact = Fact | Mapping[str, Any] | str


def stored_fact(stored: StoredFact) -> Fact:
    """A fact as it was stored; what was stored before there were codes is a sentence."""
    if isinstance(stored, Fact):
        return stored
    if isinstance(stored, Mapping) and stored.get("code"):
        return fact_from_json(stored)
    text = stored if isinstance(stored, str) else stored.get("sentence", stored.get("detail", ""))
    return fact("recorded_text", text=text)


@extend_schema_field({"type": "string"})
class SentenceField(serializers.Field[Any, Any, Any, Any]):
    """The sentence of a fact whose code and values stand beside it."""

    def to_representation(self, value: Fact) -> str:
        return sentence(value)


@extend_schema_field({"type": "object", "additionalProperties": {}})
class FactValuesField(serializers.Field[Any, Any, Any, Any]):
    """The values of a fact; one may be a fact again, or a list of them."""

    def to_representation(self, value: Fact) -> dict[str, Any]:
        values: dict[str, Any] = value.as_json()["values"]
        return values


class BareFactSerializer(serializers.Serializer[Any]):
    """A fact whose sentence is part of the one beside it."""

    code = serializers.CharField()
    values = FactValuesField(source="*")


class FactSerializer(BareFactSerializer):
    """`code` says what was found, `values` how much. Facts may come as they were stored."""

    explanation = SentenceField(source="*")

    def to_representation(self, instance: StoredFact) -> dict[str, Any]:
        found = stored_fact(instance)
        return {**found.as_json(), "explanation": sentence(found)}


def reason_with_sentence(stored: Mapping[str, Any]) -> dict[str, Any]:
    """Why a message waits. Reasons stored before they had codes hold their sentence, and keep it with an empty code."""
    if not stored.get("code"):
        return {**stored, "code": "", "values": {}}
    return {**stored, "detail": sentence(fact_from_json(stored))}


@extend_schema_field({"anyOf": [{"$ref": "#/components/schemas/FactCode"}, {"type": "string"}]})
class RefusalCodeField(serializers.CharField):
    """A code of the list, or the code of a validation such as `required`."""

"""Checks as they were recorded with a unit or a question: stored as facts, shown with their sentence."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.wire.facts import FactSerializer
from api.wording.sentences import sentences
from inventory.facts import fact, fact_from_json


def with_explanation(check: Any) -> Any:
    """Records from before facts were stored carry their sentence; a person may have written plain text."""
    if not isinstance(check, dict) or "facts" not in check:
        return check
    shown = {name: value for name, value in check.items() if name != "facts"}
    first, *further = check["facts"]
    return shown | {
        **first,
        "further": further,
        "explanation": sentences(map(fact_from_json, check["facts"])),
    }


@extend_schema_field(FactSerializer)
class RecordedMeasureField(serializers.Field[Any, Any, Any, Any]):
    """What a fit question asks to measure; records from before facts were stored carry their sentence."""

    def to_representation(self, value: Any) -> dict[str, Any]:
        found = value.measure_fact or fact("recorded_text", text=value.measure)
        return dict(FactSerializer(found).data)


@extend_schema_field({"type": "array", "items": {}})
class RecordedChecksField(serializers.Field[Any, Any, Any, Any]):
    def to_representation(self, value: Any) -> Any:
        return [with_explanation(check) for check in value]


@extend_schema_field({"type": "object", "additionalProperties": {}})
class RecordedVerdictField(serializers.Field[Any, Any, Any, Any]):
    def to_representation(self, value: Any) -> Any:
        if "checks" not in value:
            return value
        return value | {"checks": [with_explanation(check) for check in value["checks"]]}

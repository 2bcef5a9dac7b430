"""A verdict as it goes over the wire."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from inventory.interchange.values import Verdict
from inventory.interchange.vocabulary import Aspect, Grade, Operation, Outcome


@extend_schema_field({"type": ["number", "string", "boolean"]})
class FigureField(serializers.Field[Any, Any, Any, Any]):
    """A number, a word or a truth value, as the finding has it."""

    def to_representation(self, value: Any) -> Any:
        return value


class CheckSerializer(serializers.Serializer[Any]):
    aspect = serializers.ChoiceField(choices=[aspect.value for aspect in Aspect])
    outcome = serializers.ChoiceField(choices=[outcome.value for outcome in Outcome])
    required = FigureField(allow_null=True)  # type: ignore[assignment]
    offered = FigureField(allow_null=True)
    limit = FigureField(allow_null=True)
    margin = serializers.FloatField(allow_null=True)
    explanation = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]


class WorkStepSerializer(serializers.Serializer[Any]):
    operation = serializers.ChoiceField(choices=[operation.value for operation in Operation])
    detail = serializers.CharField()
    minutes = serializers.IntegerField(allow_null=True)


class ConsequencesSerializer(serializers.Serializer[Any]):
    ratio_change_percent = serializers.FloatField(allow_null=True)
    driven_speed_rpm = serializers.FloatField(allow_null=True)
    chain_links = serializers.IntegerField(allow_null=True)
    centre_shift_mm = serializers.FloatField(allow_null=True)
    rating_utilisation = serializers.FloatField(allow_null=True)
    chain_line_shift_mm = serializers.FloatField(allow_null=True)


class UncheckedSerializer(serializers.Serializer[Any]):
    aspect = serializers.ChoiceField(choices=[aspect.value for aspect in Aspect])
    explanation = serializers.CharField()


class VerdictSerializer(serializers.Serializer[Any]):
    grade = serializers.ChoiceField(choices=[grade.value for grade in Grade])
    checks = CheckSerializer(many=True)
    work = WorkStepSerializer(many=True)
    work_minutes = serializers.IntegerField(allow_null=True)
    consequences = ConsequencesSerializer()
    unchecked = serializers.SerializerMethodField(
        help_text="Aspects that could not be looked at, or not wholly."
    )
    unchecked_reasons = UncheckedSerializer(many=True, source="unchecked")
    cautions = serializers.ListField(child=serializers.CharField())

    def get_unchecked(self, verdict: Verdict) -> list[str]:
        return list(dict.fromkeys(finding.aspect.value for finding in verdict.unchecked))

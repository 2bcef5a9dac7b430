"""A verdict in the API."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.wording.sentences import sentence, sentences
from inventory.facts import Fact
from inventory.interchange.findings import Finding, Verdict, WorkStep
from inventory.interchange.vocabulary import Aspect, Grade, Operation, Outcome


@extend_schema_field({"type": ["number", "string", "boolean"]})
class FigureField(serializers.Field[Any, Any, Any, Any]):
    """A number, a word or a truth value, as the finding has it."""

    def to_representation(self, value: Any) -> Any:
        return value


@extend_schema_field({"type": "object", "additionalProperties": {}})
class FactValuesField(serializers.Field[Any, Any, Any, Any]):
    """The values of a fact; one may be a fact again, or a list of them."""

    def to_representation(self, value: Fact) -> dict[str, Any]:
        values: dict[str, Any] = value.as_json()["values"]
        return values


class FactSerializer(serializers.Serializer[Any]):
    """What was found: `code` says what, `values` how much."""

    code = serializers.CharField()
    values = FactValuesField(source="*")


class AnswerWithReasonsSerializer(serializers.Serializer[Any]):
    """An answer that says why."""

    explanation = serializers.SerializerMethodField(help_text="A sentence for each reason.")
    reasons = FactSerializer(many=True, help_text="In the order of explanation.")

    def get_explanation(self, answer: dict[str, Any]) -> list[str]:
        return [sentence(reason) for reason in answer["reasons"]]


class ExplainedFactSerializer(FactSerializer):
    explanation = serializers.SerializerMethodField()

    def get_explanation(self, fact: Fact) -> str:
        return sentence(fact)


class FindingSerializer(serializers.Serializer[Any]):
    """A finding's first fact with the sentence made from all of them."""

    code = serializers.CharField()
    values = FactValuesField(source="reason")
    further = FactSerializer(many=True)
    explanation = serializers.SerializerMethodField()

    def get_explanation(self, finding: Finding) -> str:
        return sentences(finding.facts)


class CheckSerializer(FindingSerializer):
    aspect = serializers.ChoiceField(choices=[aspect.value for aspect in Aspect])
    outcome = serializers.ChoiceField(choices=[outcome.value for outcome in Outcome])
    required = FigureField(allow_null=True)  # type: ignore[assignment]
    offered = FigureField(allow_null=True)
    limit = FigureField(allow_null=True)
    margin = serializers.FloatField(allow_null=True)
    source = serializers.SerializerMethodField()  # type: ignore[assignment]
    source_keys = FactSerializer(many=True, source="sources")

    def get_source(self, finding: Finding) -> str:
        return "; ".join(sentence(source) for source in finding.sources)


class WorkStepSerializer(serializers.Serializer[Any]):
    operation = serializers.ChoiceField(choices=[operation.value for operation in Operation])
    code = serializers.CharField(source="detail.code")
    values = FactValuesField(source="detail")
    detail = serializers.SerializerMethodField()
    minutes = serializers.IntegerField(allow_null=True)

    def get_detail(self, step: WorkStep) -> str:
        return sentence(step.detail)


class ConsequencesSerializer(serializers.Serializer[Any]):
    ratio_change_percent = serializers.FloatField(allow_null=True)
    driven_speed_rpm = serializers.FloatField(allow_null=True)
    chain_links = serializers.IntegerField(allow_null=True)
    centre_shift_mm = serializers.FloatField(allow_null=True)
    rating_utilisation = serializers.FloatField(allow_null=True)
    chain_line_shift_mm = serializers.FloatField(allow_null=True)


class UncheckedSerializer(FindingSerializer):
    aspect = serializers.ChoiceField(choices=[aspect.value for aspect in Aspect])


class VerdictSerializer(serializers.Serializer[Any]):
    grade = serializers.ChoiceField(choices=[grade.value for grade in Grade])
    checks = CheckSerializer(many=True)
    work = WorkStepSerializer(many=True)
    work_minutes = serializers.IntegerField(allow_null=True)
    consequences = ConsequencesSerializer()
    unchecked = serializers.SerializerMethodField(help_text="Aspects that were not checked, or not fully.")
    unchecked_reasons = UncheckedSerializer(many=True, source="unchecked")
    cautions = ExplainedFactSerializer(many=True)

    def get_unchecked(self, verdict: Verdict) -> list[str]:
        return list(dict.fromkeys(finding.aspect.value for finding in verdict.unchecked))

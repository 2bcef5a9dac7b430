"""A verdict in the API."""

from collections.abc import Iterable
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.answers.derived_members import CoreAnswerSerializer
from api.wire.facts import BareFactSerializer, FactValuesField, SentenceField
from api.wording.sentences import sentence, sentences
from inventory.facts import Fact
from inventory.interchange.findings import Consequences, Finding, Verdict, WorkStep
from inventory.interchange.vocabulary import Aspect, Outcome


@extend_schema_field({"type": ["number", "string", "boolean"]})
class FigureField(serializers.Field[Any, Any, Any, Any]):
    """A number, a word or a truth value, as the finding has it."""

    def to_representation(self, value: Any) -> Any:
        return value


@extend_schema_field({"type": "array", "items": {"type": "integer", "minimum": 0}})
class PlacesField(serializers.Field[Any, Any, Any, Any]):
    """Of sources: their places in `sources` of the answer, which `number_sources` puts in."""

    def to_representation(self, value: Any) -> Any:
        return value


class FindingSerializer(serializers.Serializer[Any]):
    """A finding's first fact with the sentence made from all of them."""

    code = serializers.CharField()
    values = FactValuesField(source="reason")
    further = BareFactSerializer(many=True)
    explanation = serializers.SerializerMethodField()

    def get_explanation(self, finding: Finding) -> str:
        return sentences(finding.facts)


class CheckSerializer(FindingSerializer, CoreAnswerSerializer):
    of = Finding
    members = (
        "code values further explanation aspect outcome required offered limit margin source source_keys"
    )
    outcome = serializers.ChoiceField(choices=[outcome.value for outcome in Outcome])
    required = FigureField(allow_null=True)  # type: ignore[assignment]
    offered = FigureField(allow_null=True)
    limit = FigureField(allow_null=True)
    source = serializers.SerializerMethodField()  # type: ignore[assignment]
    source_keys = BareFactSerializer(many=True, source="sources")

    def get_source(self, finding: Finding) -> str:
        return "; ".join(sentence(source) for source in finding.sources)


class ListedCheckSerializer(FindingSerializer, CoreAnswerSerializer):
    """A check in a list of verdicts, where many rest on the same sources."""

    of = Finding
    members = "code values further explanation aspect outcome required offered limit margin sources"
    outcome = serializers.ChoiceField(choices=[outcome.value for outcome in Outcome])
    required = FigureField(allow_null=True)  # type: ignore[assignment]
    offered = FigureField(allow_null=True)
    limit = FigureField(allow_null=True)
    sources = PlacesField()


class WorkStepSerializer(CoreAnswerSerializer):
    of = WorkStep
    members = "operation code=detail.code values detail minutes basis cautions"
    texts = {"basis": "Whether this plant recorded the minutes, or they are an estimate of common practice."}
    values = FactValuesField(source="detail")
    detail = SentenceField()


class ConsequencesSerializer(CoreAnswerSerializer):
    of = Consequences
    members = "ratio_change_percent driven_speed_rpm chain_links centre_shift_mm rating_utilisation chain_line_shift_mm"


class UncheckedSerializer(FindingSerializer):
    aspect = serializers.ChoiceField(choices=[aspect.value for aspect in Aspect])


class VerdictSerializer(CoreAnswerSerializer):
    of = Verdict
    members = "grade checks work work_minutes work_basis consequences unchecked unchecked_reasons cautions"
    unchecked = serializers.SerializerMethodField(help_text="Aspects that were not checked, or not fully.")
    unchecked_reasons = UncheckedSerializer(many=True, source="unchecked")

    def get_unchecked(self, verdict: Verdict) -> list[str]:
        return list(dict.fromkeys(finding.aspect.value for finding in verdict.unchecked))


class ListedVerdictSerializer(VerdictSerializer):
    checks = ListedCheckSerializer(many=True)


def number_sources(verdicts: Iterable[dict[str, Any]]) -> list[Fact]:
    """The sources of all checks of such verdicts, each once; the checks then name the places of theirs."""
    places: dict[Fact, int] = {}
    for verdict in verdicts:
        for check in verdict["checks"]:
            check["sources"] = [places.setdefault(source, len(places)) for source in check["sources"]]
    return list(places)

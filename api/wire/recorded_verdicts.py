"""The verdict that was recorded with an issue or a unit, and the one that a refusal answers with."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.edge.declarations import Declaration, Scope, declare
from api.wire.recorded_checks import with_explanation
from drives.models import RecordedVerdict
from drives.substitutes.fitting_verdict import FittingVerdict
from inventory.interchange.vocabulary import GRADE_OF_OUTCOME, Grade, Outcome

SCOPE = Scope(plant="position__drive__equipment__area__plant", storerooms=("entry__storeroom",))
RECORDED_VERDICTS = declare(Declaration(RecordedVerdict, scope=SCOPE, is_logged=False))
LONGEST_QUOTE = 16


class ToldVerdictSerializer(serializers.Serializer[Any]):
    """What the records say of the part at the position. Quote `id` when it is issued or fitted."""

    id = serializers.CharField()
    grade = serializers.ChoiceField(choices=[grade.value for grade in Grade])
    reasons = serializers.ListField(
        child=serializers.JSONField(),
        help_text="The checks that decide, each with its facts and its sentence.",
    )


def verdict_as_json(found: RecordedVerdict | FittingVerdict | None) -> dict[str, Any] | None:
    if found is None:
        return None
    grade = Grade(found.grade)
    deciding = [
        one for one in found.checks if one["outcome"] and GRADE_OF_OUTCOME[Outcome(one["outcome"])] is grade
    ]
    return {"id": found.quote, "grade": grade.value, "reasons": [with_explanation(one) for one in deciding]}


@extend_schema_field(ToldVerdictSerializer(allow_null=True))
class ToldVerdictField(serializers.Field[Any, Any, Any, Any]):
    """Of an issue or a unit: the verdict recorded with it; null where nothing could be judged."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{**kwargs, "source": "*", "read_only": True})

    def to_representation(self, value: Any) -> dict[str, Any] | None:
        return verdict_as_json(getattr(value, "recorded_verdict", None))

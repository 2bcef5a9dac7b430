"""How an address gives an answer that a background job calculates: 200 with the stored answer, else 202 with the job."""

from datetime import datetime
from typing import Any, TypeVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import Throttled
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.errors import Unavailable
from api.edge.filtering import MomentText
from api.operations.jobs.accepted import BackgroundJobSerializer, job_accepted
from api.operations.jobs.calculations import Calculated, CalculationKind
from api.operations.jobs.kinds import Parameters
from api.operations.jobs.queue import requester_of
from api.wording.sentences import sentence
from inventory.facts import Fact

Answer = TypeVar("Answer")
SECONDS_TO_WAIT = 60


class CalculationFailed(Unavailable):
    wait = SECONDS_TO_WAIT

    def __init__(self, problem: Fact) -> None:
        super().__init__(sentence(problem))
        self.extra = problem.as_json()


class TooManyCalculations(Throttled):
    extra_detail_singular = extra_detail_plural = ""

    def __init__(self, problem: Fact) -> None:
        super().__init__(wait=SECONDS_TO_WAIT, detail=sentence(problem))
        self.extra = problem.as_json()


class PastMoment(MomentText):
    def to_python(self, value: Any) -> datetime | None:
        found = super().to_python(value)
        if found is not None and found > timezone.now():
            raise ValidationError("It must not lie in the future.")
        return found


class CalculatedQuery(forms.Form):
    calculated_after = PastMoment(
        required=False, help_text="An answer that was calculated before this moment is not enough."
    )


class AsOfSerializer(serializers.Serializer[Any]):
    as_of = serializers.SerializerMethodField(
        help_text="The calculation started then; `calculated_after` asks for a newer one."
    )

    @extend_schema_field({"type": ["string", "null"], "format": "date-time"})
    def get_as_of(self, answer: Any) -> datetime | None:
        found: datetime | None = self.context.get("as_of")
        return found


def calculated(serializer: type[serializers.Serializer[Any]]) -> dict[int, Any]:
    """For the schema: the answer, or the job that calculates it."""
    return {200: serializer, 202: BackgroundJobSerializer}


def found_or_accepted(
    request: Request,
    kind: CalculationKind[Answer],
    parameters: Parameters,
    *,
    calculated_after: datetime | None,
) -> Calculated[Answer] | Response:
    """The stored answer, or the response that says which job calculates it."""
    seen = kind.find(parameters, by=requester_of(request), calculated_after=calculated_after)
    if seen.problem is not None:
        failed = seen.problem.code == "calculation_failed"
        raise CalculationFailed(seen.problem) if failed else TooManyCalculations(seen.problem)
    if seen.job is not None:
        return job_accepted(request, seen.job)
    assert seen.answer is not None
    return seen.answer

"""A Weibull distribution for some lifetimes, or why there is none and what the hours run still say."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.derived_members import CoreAnswerSerializer
from api.edge.checked_input import SpanField, refusals_at
from api.edge.parsing import StrictChoiceField, StrictSerializer
from api.edge.viewsets import StrictAPIView
from api.wire.serializers import BodySerializer, MemberErrors
from drives.models import EndedBy, Mechanism
from drives.reliability.lifetimes import (
    LONGEST_HOURS,
    OBSERVED_ENDS,
    Lifetimes,
    ReportedLifetime,
    lifetimes_by_mechanism,
    reported_lifetimes,
)
from drives.reliability.weibull import WeibullFit, fit_weibull

MOST_LIVES = 10_000
# Ten thousand lives of this weight are still a count that every formula takes.
LEAST_WEIGHT, MOST_WEIGHT = 0.001, 10_000
HOURS = ("hours", "between_hours")
NEVER_RAN = "It must be more than 0 where a failure was observed."


class LifeSerializer(BodySerializer):
    hours = SpanField(min_value=0, max_value=LONGEST_HOURS, required=False, allow_null=True)
    between_hours = serializers.ListField(
        child=SpanField(min_value=0, max_value=LONGEST_HOURS),
        min_length=2,
        max_length=2,
        required=False,
        allow_null=True,
        help_text="Instead of hours, for a failure between two inspections: [last before, first after]; [0, h] where it"
        " was found at the first inspection.",
    )
    ended_by = StrictChoiceField(
        choices=EndedBy.choices,
        allow_null=True,
        allow_blank=True,
        help_text="failure and limit_reached count as failures, all others are censored; empty: still running.",
    )
    mechanism = StrictChoiceField(
        choices=Mechanism.choices, required=False, allow_null=True, allow_blank=True
    )
    weight = SpanField(
        min_value=LEAST_WEIGHT,
        max_value=MOST_WEIGHT,
        default=1.0,
        help_text="Number of equal lives.",
    )

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        given = [name for name in HOURS if values.get(name) is not None or name in faults]
        if len(given) != 1:
            return {name: ["Give hours or between_hours, and not both."] for name in HOURS}
        seen = values["ended_by"] in OBSERVED_ENDS if "ended_by" in values else None
        if seen and values.get("hours") == 0:
            return {"hours": [NEVER_RAN]}
        text = bounds_fault(values.get("between_hours"), seen=seen)
        return {"between_hours": [text]} if text else {}


def bounds_fault(bounds: Sequence[float] | None, *, seen: bool | None) -> str:
    if bounds is None:
        return ""
    if bounds[1] < bounds[0]:
        return "The second hour is below the first: give the last inspection before the failure first."
    if seen and bounds[1] == 0:
        return NEVER_RAN
    return "Only a failure lies between two inspections: give hours for all others." if seen is False else ""


class FitBodySerializer(StrictSerializer):
    lives = LifeSerializer(many=True, max_length=MOST_LIVES)  # type: ignore[call-arg]
    mechanism = StrictChoiceField(
        choices=Mechanism.choices,
        required=False,
        allow_null=True,
        help_text="Fit this mechanism alone: failures by any other are censored.",
    )
    confidence = SpanField(min_value=0.01, max_value=0.9999, default=0.95)


@extend_schema_field({"type": "number", "minimum": 0})
class CountField(serializers.Field[Any, Any, Any, Any]):
    """An integer where all weights are whole."""

    def to_representation(self, value: float) -> float:
        return int(value) if value.is_integer() else value


class EndField(serializers.FloatField):
    """A number, or null where it is infinite."""

    def to_representation(self, value: float) -> float | None:  # type: ignore[override]
        return value if math.isfinite(value) else None


def interval(**options: Any) -> serializers.ListField:
    child = EndField(allow_null=True)
    return serializers.ListField(child=child, min_length=2, max_length=2, allow_null=True, **options)


class FitSerializer(CoreAnswerSerializer):
    of = WeibullFit
    members = (
        "shape scale_hours shape_interval scale_interval_hours shape_interval_wald scale_interval_wald_hours "
        "log_likelihood failures suspensions exposure_hours mean_life_hours rate_upper_per_hour confidence verdict reasons"
    )
    texts = {
        "exposure_hours": "Total hours run; a failure between two inspections counts from their middle.",
    }
    shape = EndField(allow_null=True)
    scale_hours = EndField(allow_null=True)
    shape_interval = interval(help_text="By profile likelihood; null in place of an end: no bound.")
    scale_interval_hours = interval()
    shape_interval_wald = interval(help_text="By the standard error of the logarithm.")
    scale_interval_wald_hours = interval()
    log_likelihood = EndField(allow_null=True)
    failures = CountField(help_text="Failures observed, weights counted.")
    suspensions = CountField()
    mean_life_hours = EndField(allow_null=True)
    rate_upper_per_hour = EndField(
        allow_null=True, help_text="One-sided upper bound of a constant failure rate; null where nothing ran."
    )


class MechanismFitSerializer(FitSerializer):
    mechanism = serializers.ChoiceField(choices=Mechanism.choices)


class FitAnswerSerializer(FitSerializer):
    mechanism = serializers.ChoiceField(choices=Mechanism.choices, allow_null=True)
    mechanisms = MechanismFitSerializer(
        many=True, help_text="The same lives for each mechanism; empty where no failure names one."
    )


def fit_json(lifetimes: Lifetimes, confidence: float) -> dict[str, Any]:
    return vars(fit_weibull(lifetimes, confidence=confidence))


def reported(life: Mapping[str, Any]) -> ReportedLifetime:
    low, high = life.get("between_hours") or (life["hours"], life["hours"])
    return ReportedLifetime(low, high, life["ended_by"], life.get("mechanism"), life["weight"])


def fit_answer(body: Mapping[str, Any]) -> dict[str, Any]:
    rows = [reported(life) for life in body["lives"]]
    mechanism, confidence = body.get("mechanism"), body["confidence"]
    split = [
        {"mechanism": name, **fit_json(lifetimes, confidence)}
        for name, lifetimes in lifetimes_by_mechanism(rows).items()
    ]
    whole = fit_json(reported_lifetimes(rows, mechanism=mechanism), confidence)
    return {**whole, "mechanism": mechanism, "mechanisms": split}


class FitView(StrictAPIView):
    """Stateless. Without an estimate the answer has nulls, the verdict `too_few`, the reasons and a bound of the rate."""

    @extend_schema(request=FitBodySerializer, responses=FitAnswerSerializer)
    def post(self, request: Request) -> Response:
        body = self.read(FitBodySerializer, request)
        with refusals_at({"confidence": "/confidence"}, "/lives"):
            answer = fit_answer(body)
        return Response(FitAnswerSerializer(answer).data)

"""How many of the parts that were issued on our verdict came back as not fitting."""

from datetime import timedelta
from typing import Any

from django import forms
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.errors import parameter_errors
from api.edge.filtering import NearMomentText, NumberText, Range
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from api.wire.facts import FactSerializer
from drives.models import Plant, RecordedVerdict
from drives.substitutes.false_fits import FalseFitRate, FalseFits, false_fits
from inventory.facts import fact
from inventory.interchange.vocabulary import Aspect, Grade

USUAL_SPAN = timedelta(days=365)
USUAL_CASES = 50


class FalseFitRateSerializer(serializers.Serializer[Any]):
    issued = serializers.IntegerField(help_text="Issues to a position, judged when they were booked.")
    came_back = serializers.IntegerField(help_text="Of these, returned as not fitting.")
    share = serializers.FloatField(allow_null=True)
    interval = serializers.ListField(
        child=serializers.FloatField(), allow_null=True, help_text="95 %, after Wilson: lowest, highest."
    )


class FalseFitCaseSerializer(serializers.Serializer[Any]):
    issue = serializers.IntegerField(source="question.issue_id")
    movement = serializers.IntegerField(source="question.entry_id", help_text="Its return.")
    fit_question = serializers.IntegerField(source="question.pk")
    item = serializers.CharField(source="question.item.stock_number")
    position = serializers.CharField(source="verdict.position.tag")
    grade = serializers.ChoiceField(source="verdict.grade", choices=[one.value for one in Grade])
    verdict = serializers.CharField(source="verdict.quote", help_text="Its id.")
    aspect = serializers.CharField(source="question.aspect", help_text="Empty: it is not known.")
    reason = serializers.CharField(source="question.entry.reason")
    measure = FactSerializer(source="question.measure_fact")
    answer = serializers.CharField(source="question.answer")
    returned_at = serializers.DateTimeField(source="question.entry.occurred_at")


class FalseFitsSerializer(FalseFitRateSerializer):
    by_grade = serializers.DictField(child=FalseFitRateSerializer())
    by_aspect = serializers.DictField(
        child=FalseFitRateSerializer(), help_text="By what the return put in doubt, of all issues."
    )
    cases = FalseFitCaseSerializer(many=True, help_text="The newest first.")


class FalseFitsQuery(forms.Form):
    plant = forms.CharField(required=False, max_length=20)
    grade = forms.ChoiceField(choices=[(one.value, one.value) for one in Grade], required=False)
    aspect = forms.ChoiceField(choices=[(one.value, one.value) for one in Aspect], required=False)
    begin = NearMomentText(required=False)
    end = NearMomentText(required=False)
    limit = NumberText(span=Range(1, 500, whole=True), required=False)


class FalseFitsView(StrictAPIView):
    """The rate with its interval, by grade and by aspect, and the cases; of the last 365 days without `begin`."""

    is_costly = True
    query_form = FalseFitsQuery

    @extend_schema(responses=FalseFitsSerializer)
    def get(self, request: Request) -> Response:
        query = self.read_query()
        verdicts = visible_to_caller(RecordedVerdict.objects.all())
        if code := query["plant"]:
            if not visible_to_caller(Plant.objects.filter(code=code)).exists():
                raise parameter_errors({"plant": fact("no_such_record", kind="plant", name=code)})
            verdicts = verdicts.filter(position__drive__equipment__area__plant__code=code)
        end = query["end"] or timezone.now() + timedelta(minutes=1)
        begin = query["begin"] or end - USUAL_SPAN
        if begin >= end:
            raise parameter_errors({"end": fact("end_not_after_begin")})
        found = false_fits(
            verdicts,
            begin=begin,
            end=end,
            grade=query["grade"],
            aspect=query["aspect"],
            most_cases=int(query["limit"] or USUAL_CASES),
        )
        return Response(FalseFitsSerializer(shown(found)).data)


def shown(found: FalseFits) -> dict[str, Any]:
    return {
        **rate(found.overall),
        "by_grade": {grade.value: rate(one) for grade, one in found.by_grade.items()},
        "by_aspect": {aspect or "unknown": rate(one) for aspect, one in found.by_aspect.items()},
        "cases": found.cases,
    }


def rate(one: FalseFitRate) -> dict[str, Any]:
    return {"issued": one.issued, "came_back": one.came_back, "share": one.share, "interval": one.interval}

"""Pairs from the shelves that keep a drive's ratio when neither sprocket alone can be had."""

from typing import Any

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.substitutes import OfferedItemSerializer, ShelfSerializer
from api.answers.verdicts import VerdictSerializer
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from drives.models import Drive
from drives.substitutes.pairs import PairAnswer, substitute_pairs


class PairSideSerializer(serializers.Serializer[Any]):
    item = OfferedItemSerializer()
    teeth = serializers.IntegerField(source="attributes.teeth")
    stock = ShelfSerializer(many=True, source="shelves")
    available = serializers.IntegerField()


class PairSerializer(serializers.Serializer[Any]):
    driver = PairSideSerializer()
    driven = PairSideSerializer()
    driver_verdict = VerdictSerializer()
    driven_verdict = VerdictSerializer()
    grade = serializers.SerializerMethodField(help_text="At best needs_review: two parts change.")
    ratio = serializers.FloatField()
    ratio_change_percent = serializers.FloatField()
    chain_links = serializers.IntegerField(source="links")
    centre_distance_mm = serializers.FloatField(source="centre_mm")
    centre_shift_mm = serializers.FloatField()
    keeps_chain = serializers.BooleanField()
    take_up_reaches = serializers.BooleanField(source="fits", allow_null=True)
    rating_utilisation = serializers.FloatField(source="utilisation", allow_null=True)
    explanation = serializers.CharField()

    def get_grade(self, pair: Any) -> str:
        return "needs_review"


class PairAnswerSerializer(serializers.Serializer[Any]):
    notes = serializers.ListField(child=serializers.CharField())
    results = PairSerializer(many=True, source="pairs")


def pairs_of(tag: str) -> PairAnswer:
    drives = visible_to_caller(Drive.objects.prefetch_related("positions__drive__positions"))
    drive = drives.filter(tag=tag).first()
    if drive is None:
        raise Http404(f"There is no drive {tag!r}.")
    return substitute_pairs(drive)


class PairsView(StrictAPIView):
    is_costly = True

    @extend_schema(responses=PairAnswerSerializer, operation_id="drives_substitute_pairs")
    def get(self, request: Request, tag: str) -> Response:
        return Response(PairAnswerSerializer(pairs_of(tag)).data)

"""Pairs in stock that keep a drive's ratio when neither sprocket alone is available."""

from typing import Any

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.substitutes import OfferedItemSerializer, ShelfSerializer
from api.answers.verdicts import FactSerializer, FactValuesField, VerdictSerializer
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from api.wire.facts import FactsField, SentencesField
from api.wording.sentences import sentences
from drives.models import Drive
from drives.substitutes.pairs import PairOffers, SprocketPair, substitute_pairs


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
    code = serializers.CharField(source="reason.code")
    values = FactValuesField(source="reason")
    further = FactSerializer(many=True)
    explanation = serializers.SerializerMethodField()

    def get_grade(self, pair: SprocketPair) -> str:
        return "needs_review"

    def get_explanation(self, pair: SprocketPair) -> str:
        return sentences(pair.facts)


class PairOffersSerializer(serializers.Serializer[Any]):
    notes = SentencesField()
    notes_facts = FactsField(source="notes")
    results = PairSerializer(many=True, source="pairs")


def pairs_of(tag: str) -> PairOffers:
    drive = visible_to_caller(Drive.objects.all()).filter(tag=tag).first()
    if drive is None:
        raise Http404(f"There is no drive {tag!r}.")
    return substitute_pairs(drive)


class PairsView(StrictAPIView):
    is_costly = True

    @extend_schema(responses=PairOffersSerializer, operation_id="drives_substitute_pairs")
    def get(self, request: Request, tag: str) -> Response:
        return Response(PairOffersSerializer(pairs_of(tag)).data)

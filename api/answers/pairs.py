"""Pairs in stock that keep a drive's ratio when neither sprocket alone is available."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.derived_members import CoreAnswerSerializer
from api.answers.substitutes import OfferedItemSerializer, ShelfSerializer, tagged_or_404
from api.answers.verdicts import FindingSerializer
from api.edge.viewsets import StrictAPIView
from api.wire.facts import FactSerializer
from drives.models import Drive
from drives.substitutes.pairs import SprocketPair, substitute_pairs


class PairSideSerializer(serializers.Serializer[Any]):
    item = OfferedItemSerializer()
    teeth = serializers.IntegerField(source="attributes.teeth")
    stock = ShelfSerializer(many=True, source="shelves")
    available = serializers.IntegerField()


class PairSerializer(FindingSerializer, CoreAnswerSerializer):
    """A driver and a driven sprocket that go on together."""

    of = SprocketPair
    members = (
        "driver driven driver_verdict driven_verdict grade ratio ratio_change_percent chain_links=links "
        "centre_distance_mm=centre_mm centre_shift_mm keeps_chain take_up_reaches=fits rating_utilisation=utilisation"
    )
    driver = PairSideSerializer()
    driven = PairSideSerializer()
    grade = serializers.SerializerMethodField(help_text="At best needs_review: two parts change.")
    code = serializers.CharField(source="reason.code")

    def get_grade(self, pair: SprocketPair) -> str:
        return "needs_review"


class PairOffersSerializer(serializers.Serializer[Any]):
    notes = FactSerializer(many=True)
    results = PairSerializer(many=True, source="pairs")


class PairsView(StrictAPIView):
    is_costly = True

    @extend_schema(responses=PairOffersSerializer, operation_id="drives_substitute_pairs")
    def get(self, request: Request, tag: str) -> Response:
        return Response(PairOffersSerializer(substitute_pairs(tagged_or_404(Drive.objects.all(), tag))).data)

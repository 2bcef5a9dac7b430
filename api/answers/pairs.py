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
from drives.substitutes.pairs import PairLength, SprocketPair, substitute_pairs


class PairSideSerializer(serializers.Serializer[Any]):
    item = OfferedItemSerializer()
    teeth = serializers.IntegerField(source="attributes.teeth")
    stock = ShelfSerializer(many=True, source="shelves")
    available = serializers.IntegerField()


class PairLengthSerializer(CoreAnswerSerializer):
    """The centre distance is that of this length, taut; the shift is from what the present length gives."""

    of = PairLength
    members = "links centre_distance_mm=centre_mm centre_shift_mm keeps_chain take_up_reaches=fits"


class PairSerializer(FindingSerializer, CoreAnswerSerializer):
    """A driver and a driven sprocket that go on together."""

    of = SprocketPair
    members = (
        "driver driven driver_verdict driven_verdict cautions grade ratio ratio_change_percent driven_speed_rpm "
        "chain_links=length.links centre_distance_mm=length.centre_mm centre_shift_mm=length.centre_shift_mm "
        "keeps_chain=length.keeps_chain take_up_reaches=length.fits lengths rating_utilisation=utilisation"
    )
    texts = {
        "ratio_change_percent": "Of the driven speed: above 0 it runs faster.",
        "lengths": "Every chain length worth choosing, the one that needs no cut first.",
    }
    driver = PairSideSerializer()
    driven = PairSideSerializer()
    code = serializers.CharField(source="reason.code")


class PairOffersSerializer(serializers.Serializer[Any]):
    notes = FactSerializer(many=True)
    left_out = serializers.IntegerField(
        help_text="Sprockets in stock that were not combined, as enough of the same tooth count were."
    )
    results = PairSerializer(many=True, source="pairs")


class PairsView(StrictAPIView):
    is_costly = True

    @extend_schema(responses=PairOffersSerializer)
    def get(self, request: Request, tag: str) -> Response:
        """Pairs from the shelves that keep the ratio of the drive when neither sprocket alone can be had."""
        return Response(PairOffersSerializer(substitute_pairs(tagged_or_404(Drive.objects.all(), tag))).data)

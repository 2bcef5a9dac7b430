"""A drive worked out: ratio, length, wrap, rating, tension, advice."""

from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.attributes import chain_named
from api.answers.verdicts import ExplainedFactSerializer
from api.edge.errors import core_refusals
from api.edge.parsing import (
    LengthField,
    StrictBooleanField,
    StrictCharField,
    StrictFloatField,
    StrictIntegerField,
    StrictSerializer,
)
from api.edge.viewsets import StrictAPIView
from drives.chain.calculate import calculate
from drives.chain.drive_input import DriveInput, DriveResult
from inventory.standards.tooth_counts import COUNTED_TEETH, STRANDS

MOST_LINKS = 20_000


class DriveInputSerializer(StrictSerializer):
    chain = StrictCharField(max_length=12)
    strands = StrictIntegerField(min_value=STRANDS[0], max_value=STRANDS[1], required=False)
    driver_teeth = StrictIntegerField(min_value=COUNTED_TEETH[0], max_value=COUNTED_TEETH[1])
    driven_teeth = StrictIntegerField(min_value=COUNTED_TEETH[0], max_value=COUNTED_TEETH[1])
    driver_speed_rpm = StrictFloatField(min_value=0.001, max_value=20_000, required=False, allow_null=True)
    power_kw = StrictFloatField(min_value=0.0001, max_value=10_000, required=False, allow_null=True)
    service_factor = StrictFloatField(min_value=0.5, max_value=5, required=False, allow_null=True)
    links = StrictIntegerField(min_value=6, max_value=MOST_LINKS, required=False, allow_null=True)
    centre_distance_mm = LengthField(min_mm=40, max_mm=50_000, required=False, allow_null=True)
    lubrication = StrictCharField(max_length=20, required=False, allow_null=True)
    fixed_centres = StrictBooleanField(required=False)
    double_cut = StrictBooleanField(required=False)
    parallel_chains = StrictBooleanField(
        required=False, help_text="Chains run side by side, or the drive keeps time: they wear out earlier."
    )

    def validate_chain(self, value: str) -> Any:
        return chain_named(value)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if (attrs.get("links") is None) == (attrs.get("centre_distance_mm") is None):
            text = "Give links or centre_distance_mm, and not both."
            raise serializers.ValidationError({"links": [text], "centre_distance_mm": [text]})
        return attrs


class DriveResultSerializer(serializers.Serializer[Any]):
    ratio = serializers.FloatField()
    driven_speed_rpm = serializers.FloatField(allow_null=True)
    chain_speed_m_s = serializers.FloatField(allow_null=True)
    links_exact = serializers.FloatField()
    links = serializers.IntegerField()
    centre_distance_mm = serializers.FloatField()
    wrap_driver_deg = serializers.FloatField()
    rated_power_kw = serializers.FloatField(allow_null=True)
    limited_by = serializers.ChoiceField(
        choices=["plate_fatigue", "roller_bushing", "galling"], allow_null=True
    )
    generation = serializers.CharField(
        help_text="Which generation of ratings; two generations are never compared."
    )
    rating_confidence = serializers.CharField()
    design_power_kw = serializers.FloatField(allow_null=True)
    utilisation = serializers.FloatField(allow_null=True)
    tight_side_tension_n = serializers.FloatField(allow_null=True)
    lubrication_class = serializers.CharField(allow_null=True)
    wear_limit_percent = serializers.FloatField()
    advice = ExplainedFactSerializer(many=True)


def drive_result(body: dict[str, Any]) -> DriveResult:
    plain: dict[str, Any] = {
        name: float(value) if isinstance(value, Decimal) else value for name, value in body.items()
    }
    return calculate(DriveInput(**plain))


class CalculateView(StrictAPIView):
    """Stateless; nothing is stored."""

    @extend_schema(
        request=DriveInputSerializer, responses=DriveResultSerializer, operation_id="drives_calculate"
    )
    def post(self, request: Request) -> Response:
        body = self.read(DriveInputSerializer, request)
        with core_refusals():
            result = drive_result(body)
        return Response(DriveResultSerializer(result).data)

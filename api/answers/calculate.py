"""A drive worked out: ratio, length, wrap, rating, tension, advice."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.attributes import chain_named
from api.answers.core_input import LONGEST_TEXT, CoreInputSerializer, core_object
from api.answers.derived_members import CoreAnswerSerializer
from api.edge.errors import core_refusals
from api.edge.parsing import StrictBooleanField, StrictCharField, StrictIntegerField
from api.edge.viewsets import StrictAPIView
from drives.chain.calculate import calculate
from drives.chain.drive_input import DriveInput, DriveResult
from inventory.standards.tooth_counts import COUNTED_TEETH


class DriveInputSerializer(CoreInputSerializer):
    of = DriveInput
    members = "strands driver_speed_rpm power_kw service_factor links centre_distance_mm lubrication fixed_centres double_cut"
    chain = StrictCharField(max_length=LONGEST_TEXT["chain"])
    driver_teeth = StrictIntegerField(min_value=COUNTED_TEETH[0], max_value=COUNTED_TEETH[1])
    driven_teeth = StrictIntegerField(min_value=COUNTED_TEETH[0], max_value=COUNTED_TEETH[1])
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


class DriveResultSerializer(CoreAnswerSerializer):
    of = DriveResult
    members = (
        "ratio driven_speed_rpm chain_speed_m_s links_exact links centre_distance_mm wrap_driver_deg rated_power_kw "
        "limited_by generation rating_confidence design_power_kw utilisation tight_side_tension_n lubrication_class "
        "wear_limit_percent advice"
    )
    texts = {"generation": "Which generation of ratings; two generations are never compared."}
    lubrication_class = serializers.CharField(allow_null=True)


class CalculateView(StrictAPIView):
    """Stateless; nothing is stored."""

    @extend_schema(request=DriveInputSerializer, responses=DriveResultSerializer)
    def post(self, request: Request) -> Response:
        body = self.read(DriveInputSerializer, request)
        with core_refusals():
            result = calculate(core_object(DriveInput, body))
        return Response(DriveResultSerializer(result).data)

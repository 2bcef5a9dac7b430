"""Specifications: the generic attributes of a part, whoever made it."""

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.wire.attribute_filters import AttributeFilterSet
from api.wire.geometry import GeometrySerializer, geometry_of
from api.wire.records.specifications import SPECIFICATIONS
from api.wire.serializers import RecordSerializer
from api.wire.views import RecordViewSet, filterset_of
from inventory.models import Specification


class SpecificationSerializer(RecordSerializer):
    """The generic attributes of a part; null is what is not known. `geometry` follows from chain and teeth."""

    record = SPECIFICATIONS
    geometry = serializers.SerializerMethodField()

    @extend_schema_field(GeometrySerializer(allow_null=True))
    def get_geometry(self, specification: Specification) -> dict[str, float | None] | None:
        return geometry_of(specification)


class SpecificationViewSet(RecordViewSet):
    """Generic attributes of parts, without maker and stock number."""

    record = SPECIFICATIONS
    filterset_class = filterset_of(SPECIFICATIONS, AttributeFilterSet)

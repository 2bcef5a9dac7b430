"""Specifications: the generic attributes of a part, whoever made it."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.edge.record_views import RecordViewSet
from api.wire.attribute_filters import AttributeFilterSet
from api.wire.fields import ChainField, OptionalTextField
from api.wire.geometry import GeometrySerializer, geometry_of
from api.wire.serializers import RecordSerializer
from inventory.models import Specification


class SpecificationSerializer(RecordSerializer):
    """The generic attributes of a part; null is what is not known. `geometry` follows from chain and teeth."""

    chain = ChainField(source="chain_designation")
    bush_size = OptionalTextField(max_length=6)
    material_grade = OptionalTextField(max_length=30)
    geometry = serializers.SerializerMethodField()

    class Meta:
        model = Specification
        fields = [
            "id",
            "kind",
            "chain",
            "pitch_mm",
            "roller_diameter_mm",
            "inner_width_mm",
            "transverse_pitch_mm",
            "teeth",
            "strands",
            "role_kind",
            "hub_style",
            "bore_type",
            "bore_mm",
            "max_bore_mm",
            "keyway_width_mm",
            "keyway_depth_mm",
            "key_standard",
            "set_screws",
            "bush_size",
            "hex_across_flats_mm",
            "hub_diameter_mm",
            "hub_diameter_2_mm",
            "length_through_bore_mm",
            "outside_diameter_mm",
            "tooth_width_mm",
            "material",
            "material_grade",
            "hardened_teeth",
            "food_contact",
            "non_sparking",
            "single_cut",
            "key_height_mm",
            "key_length_mm",
            "mass_kg",
            "geometry",
            "created_at",
            "updated_at",
        ]

    @extend_schema_field(GeometrySerializer(allow_null=True))
    def get_geometry(self, specification: Specification) -> dict[str, float | None] | None:
        return geometry_of(specification)


class SpecificationFilter(AttributeFilterSet):
    search_fields = ["chain_designation", "bush_size", "material_grade"]

    class Meta:
        model = Specification
        fields: list[str] = []


class SpecificationViewSet(RecordViewSet):
    """What parts are, apart from whoever made them and whatever number they bear."""

    queryset: QuerySet[Any] = Specification.objects.all()
    serializer_class = SpecificationSerializer
    filterset_class = SpecificationFilter
    ordering_fields = {
        "id": "id",
        "chain": "chain_designation",
        "teeth": "teeth",
        "strands": "strands",
        "bore_mm": "bore_mm",
        "pitch_mm": "pitch_mm",
        "updated_at": "updated_at",
    }
    ordering = "id"

"""Specifications: the generic attributes of a part, whoever made it."""

from typing import Any, cast

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.wire.attribute_filters import AttributeFilterSet
from api.wire.geometry import GeometrySerializer, geometry_of
from api.wire.records.specifications import SPECIFICATIONS
from api.wire.serializers import MemberErrors, RecordSerializer
from api.wire.views import RecordViewSet, filterset_of
from inventory.facts import fact
from inventory.models import Specification


class SpecificationSerializer(RecordSerializer):
    """The generic attributes of a part; null is what is not known. `geometry` follows from chain and teeth."""

    record = SPECIFICATIONS
    geometry = serializers.SerializerMethodField()

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        found = super().check_members(values, faults)
        draft = cast(Specification, self.draft(values))
        if not faults and not draft.tells_apart():
            # Without a kind it is a sprocket, but of nothing at all not even that is known.
            missing = "non_field_errors" if self.root.partial or "kind" in values else "kind"
            found[missing] = [fact("specification_without_attributes")]
        return found

    @extend_schema_field(GeometrySerializer(allow_null=True))
    def get_geometry(self, specification: Specification) -> dict[str, float | None] | None:
        return geometry_of(specification)


class SpecificationViewSet(RecordViewSet):
    """Generic attributes of parts, without maker and stock number."""

    record = SPECIFICATIONS
    filterset_class = filterset_of(SPECIFICATIONS, AttributeFilterSet)

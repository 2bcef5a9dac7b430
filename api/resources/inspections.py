"""Inspections: what somebody saw at a position."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet

from api.edge.concurrency import EtagCreateMixin
from api.edge.filtering import Range, StrictFilterSet, TruthFilter, WordsFilter
from api.edge.parsing import (
    NumberField,
    StrictBooleanField,
    StrictCharField,
    StrictModelSerializer,
    UtcDateTimeField,
)
from api.edge.record_views import STOCK_ROLES
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.resources.happenings import history_refusals
from api.wire.fields import OptionalTextField
from api.wire.references import reference_to
from api.wire.serializers import ActSerializer
from drives.models import Inspection, Position
from drives.service_record import history


class InspectionSerializer(StrictModelSerializer):
    """What was seen: the elongation of the chain, hooked teeth, or words."""

    position = StrictCharField(source="position.tag", read_only=True)
    drive = StrictCharField(source="position.drive.tag", read_only=True)

    class Meta:
        model = Inspection
        fields = [
            "id",
            "position",
            "drive",
            "at",
            "elongation_percent",
            "hooked_teeth",
            "running_hours",
            "note",
            "created_at",
            "updated_at",
        ]
        read_only_fields = fields


class InspectionRequestSerializer(ActSerializer):
    """An inspection: at least one of `elongation_percent`, `hooked_teeth` and `note` is given."""

    position = reference_to(Position)
    at = UtcDateTimeField()
    elongation_percent = NumberField(
        max_digits=5,
        decimal_places=2,
        min_value=history.LEAST_ELONGATION,
        max_value=history.GREATEST_ELONGATION,
        required=False,
        allow_null=True,
    )
    hooked_teeth = StrictBooleanField(required=False, allow_null=True)
    running_hours = NumberField(max_digits=10, decimal_places=1, min_value=0, required=False, allow_null=True)
    note = OptionalTextField()


class InspectionFilter(StrictFilterSet):
    numbers = {"elongation_percent": Range(-1, 20), "running_hours": Range(0, 10**8)}
    moments = {"at": ""}
    search_fields = ["position__tag", "note"]
    position = WordsFilter("position__tag")
    drive = WordsFilter("position__drive__tag")
    equipment = WordsFilter("position__drive__equipment__tag")
    plant = WordsFilter("position__drive__equipment__area__plant__code")
    hooked_teeth = TruthFilter()


class InspectionViewSet(EtagCreateMixin, ReadOnlyResourceViewSet):
    """What inspections found; recorded once, not changed after."""

    queryset: QuerySet[Any] = Inspection.objects.select_related("position__drive")
    serializer_class = InspectionSerializer
    write_serializer_class = InspectionRequestSerializer
    filterset_class = InspectionFilter
    ordering_fields = ["id", "at", "elongation_percent"]
    ordering = ("-at", "-id")
    write_roles: ClassVar[Collection[str] | None] = STOCK_ROLES

    def perform_create(self, serializer: Any) -> Inspection:
        values = dict(serializer.validated_data)
        with history_refusals():
            return history.record_inspection(values.pop("position"), **values)

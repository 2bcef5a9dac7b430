"""Inspections: what somebody saw at a position."""

from typing import Any

from api.edge.concurrency import EtagCreateMixin
from api.edge.parsing import (
    NumberField,
    StrictBooleanField,
    UtcDateTimeField,
)
from api.wire.fields import OptionalTextField
from api.wire.records.inspections import INSPECTIONS
from api.wire.references import reference_to
from api.wire.serializers import BodySerializer, serializer_of
from api.wire.views import ReadRecordViewSet
from drives.models import Inspection, Position
from drives.service_record import history

InspectionSerializer = serializer_of(INSPECTIONS)


class InspectionRequestSerializer(BodySerializer):
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


class InspectionViewSet(EtagCreateMixin, ReadRecordViewSet):
    """What inspections found; recorded once, not changed after."""

    record = INSPECTIONS
    write_serializer_class = InspectionRequestSerializer

    def perform_create(self, serializer: Any) -> Inspection:
        values = dict(serializer.validated_data)
        return history.record_inspection(values.pop("position"), **values)

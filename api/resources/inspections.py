"""Inspections: what somebody saw at a position."""

from dataclasses import replace
from typing import Any

from api.edge.concurrency import EtagCreateMixin
from api.wire.records.inspections import COLUMNS, INSPECTIONS
from api.wire.serializers import ActSerializer
from api.wire.views import ReadRecordViewSet
from drives.models import Inspection
from drives.service_record import history


class InspectionRequestSerializer(ActSerializer):
    """An inspection: at least one of `elongation_percent`, `hooked_teeth` and `note` is given."""

    record = replace(INSPECTIONS, fields=f"position {COLUMNS}")


class InspectionViewSet(EtagCreateMixin, ReadRecordViewSet):
    """What inspections found; recorded once, not changed after."""

    record = INSPECTIONS
    write_serializer_class = InspectionRequestSerializer

    def perform_create(self, serializer: Any) -> Inspection:
        values = dict(serializer.validated_data)
        return history.record_inspection(values.pop("position"), **values)

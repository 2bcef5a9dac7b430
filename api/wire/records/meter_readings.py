"""Meter readings: running hours as a meter showed them."""

from api.edge.declarations import in_plant
from api.edge.filtering import Range, TruthFilter
from api.edge.parsing import UtcDateTimeField
from api.wire.declaration import ListForm, WireRecord, declare
from drives.models import MeterReading

METER_READINGS = declare(
    WireRecord(
        MeterReading,
        path="meter-readings",
        text="Running hours as a meter showed them.",
        is_read_only=True,
        key="source external_id",
        log_key="position pk",
        scope=in_plant("position__drive__equipment__area__plant"),
        fields="id source external_id position at hours is_reset retracted_at updated_at created_at",
        members={
            "updated_at": UtcDateTimeField(source="source_updated_at", read_only=True),
        },
        listed=ListForm(
            filters="source external_id position is_reset",
            more={"retracted": TruthFilter("retracted_at", lookup_expr="isnull", exclude=True)},
            numbers={"hours": Range(0, 10**11)},
            moments="at updated_at=source_updated_at",
            sortable="id at hours",
            ordering="-at -id",
        ),
    )
)

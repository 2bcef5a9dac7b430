"""Units that have come off already, as a file records them."""

from typing import Any

from drives.models import Installation, Position
from drives.service_record.many import UnitsOfPositions


def record_past(position: Position, **columns: Any) -> Installation:
    units = UnitsOfPositions([position.pk])
    units.record(position, **columns)
    (unit,) = units.save()
    return unit

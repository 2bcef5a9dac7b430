"""Many units and inspections at once, as a file brings them: positions are locked and read together, rows written together.

Each is checked as `history` checks a single one.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import datetime
from typing import Any

from django.db.models import Min
from django.utils import timezone

from drives.models import Inspection, Installation, Position
from drives.service_record.history import (
    UnitFitted,
    check_inspection,
    check_unit,
    complete_end,
    new_unit,
    overlap_of,
    refuse_unapproved,
)
from inventory.plumbing.many_rows import insert_records


class UnitsOfPositions:
    """The units of some positions. Those that are recorded here are kept in memory until `save`."""

    def __init__(self, positions: Collection[int]) -> None:
        # In the order of their keys, so that two who lock several positions cannot wait for each other.
        list(Position.objects.select_for_update().only("pk").filter(pk__in=positions).order_by("pk"))
        self._units: dict[int, list[Installation]] = defaultdict(list)
        self._new: list[Installation] = []
        for unit in Installation.objects.with_parts().filter(position__in=positions).order_by("installed_at"):
            self._units[unit.position_id].append(unit)

    def find(self, position: Position, installed_at: datetime) -> Installation | None:
        """What was recorded before."""
        units = self._units[position.pk]
        return next((one for one in units if one.pk and one.installed_at == installed_at), None)

    def record(self, position: Position, **columns: Any) -> None:
        """A unit that is still fitted, or one with its end. A position's units come in the order in which they were fitted."""
        unit, now = new_unit(position, columns), timezone.now()
        units = self._units[position.pk]
        if unit.removed_at is not None:
            complete_end(unit)
        refuse_unapproved(unit)
        check_unit(unit, now)
        if unit.removed_at is None and (
            fitted := next((one for one in units if one.removed_at is None), None)
        ):
            raise UnitFitted(fitted)
        if (other := first_overlapping(unit, units)) is not None:
            raise overlap_of(unit, other)
        units.append(unit)
        self._new.append(unit)

    def replace(self, unit: Installation) -> None:
        """With what was written of it since."""
        units = self._units[unit.position_id]
        units[[one.pk for one in units].index(unit.pk)] = unit

    def save(self) -> list[Installation]:
        """Those that are new."""
        insert_records(Installation, self._new)
        return self._new


def first_overlapping(unit: Installation, others: Iterable[Installation]) -> Installation | None:
    """The one fitted first of those that were fitted while the unit was."""
    overlapping = (
        other
        for other in others
        if (other.removed_at is None or other.removed_at > unit.installed_at)
        and (unit.removed_at is None or other.installed_at < unit.removed_at)
    )
    return min(overlapping, key=lambda other: other.installed_at, default=None)


class InspectionsOfPositions:
    """The inspections of some positions. Those that are recorded here are kept in memory until `save`."""

    def __init__(self, positions: Collection[int]) -> None:
        standing = Inspection.objects.filter(position__in=positions)
        self._standing = {(one.position_id, one.at): one for one in standing}
        units = Installation.objects.filter(position__in=positions).order_by().values_list("position")
        self._first_installed_at = dict(units.annotate(Min("installed_at")))
        self._new: list[Inspection] = []

    def find(self, position: Position, at: datetime) -> Inspection | None:
        """What was recorded before."""
        return self._standing.get((position.pk, at))

    def record(self, position: Position, **columns: Any) -> None:
        inspection = Inspection(position=position, **columns)
        check_inspection(inspection, self._first_installed_at.get(position.pk))
        self._new.append(inspection)

    def save(self) -> list[Inspection]:
        """Those that are new."""
        insert_records(Inspection, self._new)
        return self._new

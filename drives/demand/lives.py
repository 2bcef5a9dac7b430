"""How long units lasted at each position, and how old those are that sit there now."""

from dataclasses import dataclass
from datetime import datetime

from drives.history import calendar_hours
from drives.models import AgeBasis, Installation, Mechanism
from drives.reliability.lives import OBSERVED_ENDS

WEARING = frozenset({Mechanism.WEAR, Mechanism.CORROSION, Mechanism.FATIGUE})
"""Mechanisms that come with age; all others come at any age."""


@dataclass(frozen=True, slots=True)
class Life:
    """One unit on one position; `hours` is None where neither a meter nor the drive's yearly hours are known."""

    position_id: int
    item_id: int | None
    installed_at: datetime
    removed_at: datetime | None
    hours: float | None
    basis: str
    ended_by: str
    mechanism: str
    work_order: str
    is_temporary: bool

    @property
    def is_observed(self) -> bool:
        return self.ended_by in OBSERVED_ENDS

    @property
    def is_worn_out(self) -> bool:
        """Its end was seen and came with age."""
        return self.is_observed and self.mechanism in WEARING

    @property
    def is_running(self) -> bool:
        return self.removed_at is None


def lives(as_of: datetime) -> tuple[Life, ...]:
    """Every unit fitted by a moment, seen from that moment; one query."""
    rows = Installation.objects.filter(installed_at__lte=as_of).select_related("position__drive")
    found = [_life(row, as_of) for row in rows]
    return tuple(sorted(found, key=lambda life: (life.position_id, life.installed_at)))


def _life(row: Installation, as_of: datetime) -> Life:
    ended = row.removed_at is not None and row.removed_at <= as_of
    hours, basis = _hours(row, as_of, ended)
    return Life(
        position_id=row.position_id,
        item_id=row.item_id,
        installed_at=row.installed_at,
        removed_at=row.removed_at if ended else None,
        hours=hours,
        basis=basis,
        ended_by=row.ended_by if ended else "",
        mechanism=row.mechanism if ended else "",
        work_order=row.work_order if ended else "",
        is_temporary=row.temporary_until is not None,
    )


def _hours(row: Installation, as_of: datetime, ended: bool) -> tuple[float | None, str]:
    if ended and row.running_hours is not None:
        return float(row.running_hours), row.age_basis or AgeBasis.METER
    per_year = row.position.drive.hours_per_year
    if per_year is None:
        return None, ""
    until = row.removed_at if ended and row.removed_at else as_of
    return float(calendar_hours(row.installed_at, until, per_year)), AgeBasis.CALENDAR

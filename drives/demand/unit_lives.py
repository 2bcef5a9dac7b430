"""How long units lasted at each position, and how old those are that sit there now."""

from dataclasses import dataclass, replace
from datetime import datetime

from drives.models import AgeBasis, EndedBy, Installation, Mechanism
from drives.reliability.lifetimes import OBSERVED_ENDS
from drives.service_record.history import calendar_hours

WEARING = frozenset({Mechanism.WEAR, Mechanism.CORROSION, Mechanism.FATIGUE})
"""Mechanisms that come with age; all others come at any age."""
NOT_SAID = frozenset({"", Mechanism.UNKNOWN})
"""Worn to the limit is wear, unless something else is named."""


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
    is_taken_as_wear: bool = False
    """No end of its pool names a mechanism, so all of them are taken together."""

    @property
    def is_observed(self) -> bool:
        return self.ended_by in OBSERVED_ENDS

    @property
    def is_worn_out(self) -> bool:
        """Its end was seen and came with age."""
        if self.is_taken_as_wear and self.is_observed:
            return True
        if self.ended_by == EndedBy.LIMIT_REACHED and self.mechanism in NOT_SAID:
            return True
        return self.is_observed and self.mechanism in WEARING

    @property
    def is_running(self) -> bool:
        return self.removed_at is None


def lives(as_of: datetime, *, known_until: datetime | None = None) -> tuple[Life, ...]:
    """Every unit fitted by a moment, those that run aged to it; what was recorded as later than `known_until` is not seen."""
    known_until = known_until or as_of
    rows = Installation.objects.filter(installed_at__lte=known_until).select_related("position__drive")
    return tuple(sorted((_life(row, as_of, known_until) for row in rows), key=_in_time))


def _in_time(life: Life) -> tuple[object, ...]:
    return (
        life.position_id,
        life.installed_at,
        life.is_running,
        life.removed_at or life.installed_at,
        life.item_id or 0,
        life.ended_by,
        life.mechanism,
    )


def _life(row: Installation, as_of: datetime, known_until: datetime) -> Life:
    ended = row.removed_at is not None and row.removed_at <= known_until
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


def taken_together(found: tuple[Life, ...]) -> tuple[Life, ...]:
    """Where no end names its mechanism the ends cannot be split: one law is looked for in all of them."""
    ends = [life for life in found if life.is_observed]
    if not ends or any(life.mechanism not in NOT_SAID for life in ends):
        return found
    return tuple(replace(life, is_taken_as_wear=True) for life in found)

"""How long units lasted at each position, and the age of those in service."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256
from itertools import groupby
from operator import attrgetter
from sys import intern
from typing import Any

from drives.models import AgeBasis, EndedBy, Installation, Mechanism, Position
from drives.reliability.lifetimes import OBSERVED_ENDS
from drives.service_record.history import age_by_calendar

WEAR_MECHANISMS = frozenset({Mechanism.WEAR, Mechanism.CORROSION, Mechanism.FATIGUE})
"""Mechanisms that come with age; all others come at any age."""
NOT_RECORDED = frozenset({"", Mechanism.UNKNOWN})
"""A unit worn to its limit counts as wear, unless another mechanism is recorded."""

ROWS_AT_ONCE = 2_000
COLUMNS = (
    *("position_id", "item_id", "installed_at", "removed_at", "running_hours", "age_basis"),
    *("ended_by", "mechanism", "work_order", "temporary_until"),
)


@dataclass(frozen=True, slots=True)
class UnitLife:
    """One unit at one position; `hours` is None where neither a meter nor the drive's hours per year are known."""

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
    counts_as_wear: bool = False
    """No end in its pool has a recorded mechanism, so all ends are taken as wear."""

    @property
    def is_observed(self) -> bool:
        return self.ended_by in OBSERVED_ENDS

    @property
    def is_worn_out(self) -> bool:
        """Its end was observed and came with age."""
        if self.counts_as_wear and self.is_observed:
            return True
        if self.ended_by == EndedBy.LIMIT_REACHED and self.mechanism in NOT_RECORDED:
            return True
        return self.is_observed and self.mechanism in WEAR_MECHANISMS

    @property
    def is_running(self) -> bool:
        return self.removed_at is None


def unit_lives(
    as_of: datetime,
    *,
    known_until: datetime | None = None,
    positions: Mapping[int, Position] | None = None,
    units: Iterable[Installation] | None = None,
) -> tuple[UnitLife, ...]:
    """Every unit, those in service aged to `as_of`; what happened after `known_until` (`as_of` by default) is ignored.

    The order in which the units were recorded makes no difference. `positions` are all of them with their drives, where
    they are loaded already; `units` of those that are looked at.
    """
    known_until = known_until or as_of
    lives = []
    for row in _units(known_until, positions) if units is None else units:
        if positions is not None:
            if row.position_id not in positions:
                continue  # Recorded after the positions were read: the next run has it.
            if isinstance(row, Installation):
                row.position = positions[row.position_id]
        if row.installed_at <= known_until:
            lives.append(unit_life(row, as_of, known_until=known_until))
    return tuple(sorted(lives, key=_by_position))


def _units(
    known_until: datetime, positions: Mapping[int, Position] | None
) -> "Iterator[Installation | UnitRow]":
    rows = Installation.objects.filter(installed_at__lte=known_until).order_by()
    if positions is None:
        yield from rows.select_related("position__drive").iterator(ROWS_AT_ONCE)
        return
    for row in rows.values_list(*COLUMNS).iterator(ROWS_AT_ONCE):
        known = positions.get(row[0])
        columns: list[Any] = [*row, None if known is None else known.drive.hours_per_year]
        yield UnitRow(*columns)


def _by_position(life: UnitLife) -> tuple[object, ...]:
    return (
        life.position_id,
        life.installed_at,
        life.is_running,
        life.removed_at or life.installed_at,
        life.item_id or 0,
        life.ended_by,
        life.mechanism,
    )


@dataclass(frozen=True, slots=True)
class UnitRow:
    """As much of an installation as its life needs, with the hours of its drive."""

    position_id: int
    item_id: int | None
    installed_at: datetime
    removed_at: datetime | None
    running_hours: float | None
    age_basis: str
    ended_by: str
    mechanism: str
    work_order: str
    temporary_until: str | None
    hours_per_year: int | None


def unit_life(row: Installation | UnitRow, as_of: datetime, *, known_until: datetime) -> UnitLife:
    ended = row.removed_at is not None and row.removed_at <= known_until
    hours, basis = _hours(row, row.removed_at if ended and row.removed_at else as_of, ended)
    return UnitLife(
        position_id=row.position_id,
        item_id=row.item_id,
        installed_at=row.installed_at,
        removed_at=row.removed_at if ended else None,
        hours=hours,
        basis=intern(str(basis)),
        ended_by=intern(str(row.ended_by)) if ended else "",
        mechanism=intern(str(row.mechanism)) if ended else "",
        work_order=row.work_order if ended else "",
        is_temporary=row.temporary_until is not None,
    )


def _hours(row: Installation | UnitRow, until: datetime, ended: bool) -> tuple[float | None, str]:
    if ended and row.running_hours is not None:
        return float(row.running_hours), row.age_basis or AgeBasis.METER
    per_year = row.hours_per_year if isinstance(row, UnitRow) else row.position.drive.hours_per_year
    hours, basis = age_by_calendar(per_year, row.installed_at, until)
    return None if hours is None else float(hours), basis


def unit_digests(lives: Iterable[UnitLife]) -> dict[int, str]:
    """By position, of all that was recorded of its units; `lives` in the order of `unit_lives`."""
    of_position = groupby(lives, key=attrgetter("position_id"))
    return {
        position: sha256("".join(map(_told, found)).encode()).hexdigest()[:16]
        for position, found in of_position
    }


def _told(life: UnitLife) -> str:
    ended = (life.removed_at, life.ended_by, life.mechanism, life.work_order)
    hours = None if life.is_running else life.hours
    return repr((life.installed_at, life.item_id, life.is_temporary, *ended, hours))


def take_ends_together(lives: tuple[UnitLife, ...]) -> tuple[UnitLife, ...]:
    """Where no end has a recorded mechanism, ends cannot be split: all of them count as wear."""
    ends = [life for life in lives if life.is_observed]
    if not ends or any(life.mechanism not in NOT_RECORDED for life in ends):
        return lives
    return tuple(replace(life, counts_as_wear=True) for life in lives)

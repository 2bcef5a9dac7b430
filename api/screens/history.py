"""What happened at the positions of a drive, newest first; chain wear against its limit; what is likely needed next."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from heapq import merge
from itertools import islice
from typing import Any

from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from api.wording.figures import ShownNumber
from drives.demand.position_demand import stored_demands
from drives.lessons.wear_notice import PositionNotice, wear_limit_percent, wear_notices
from drives.models import Drive, EndedBy, Inspection, Installation, Position
from inventory.catalogue.plant_practice import current_demand_settings

MOST_SHOWN, READINGS_SHOWN = 20, 24
MONTH, YEAR = 30.0, 365.0
FAILED = frozenset({EndedBy.FAILURE, EndedBy.LIMIT_REACHED})


@dataclass(frozen=True)
class PastEvent:
    at: datetime
    what: str
    tag: str
    number: str = ""
    """Stock number of the part."""
    note: str = ""
    is_failure: bool = False


@dataclass(frozen=True)
class WearReading:
    inspection: Inspection
    limit: float | None

    @property
    def percent(self) -> float:
        return float(self.inspection.elongation_percent or 0)

    @property
    def share(self) -> float | None:
        """Of the limit; more than 1 where it is passed."""
        return None if not self.limit else round(max(self.percent / self.limit, 0.0), 2)


@dataclass(frozen=True)
class NextNeed:
    """The chance that the position needs a piece."""

    tag: str
    within_a_month: float
    within_a_year: float


@dataclass(frozen=True)
class DriveHistory:
    events: tuple[PastEvent, ...]
    has_more: bool
    readings: tuple[WearReading, ...]
    limit: float | None
    notice: PositionNotice | None
    needs: tuple[NextNeed, ...]


def history_of(drive: Drive, positions: Sequence[Position], at: datetime) -> DriveHistory:
    """Of these positions of the drive; the chain runs over all of them, so its wear is that of the drive."""
    keys, tags = [place.pk for place in positions], {place.pk: place.tag for place in positions}
    events = list(islice(_events(keys, tags), MOST_SHOWN + 1))
    limit = wear_limit_percent(drive)
    measured = Inspection.objects.filter(position__drive=drive, elongation_percent__isnull=False)
    notices = wear_notices(at, current_demand_settings(), drives=[drive.pk])
    demands = stored_demands(keys).of
    return DriveHistory(
        events=tuple(events[:MOST_SHOWN]),
        has_more=len(events) > MOST_SHOWN,
        readings=tuple(WearReading(one, limit) for one in _newest(measured, "at", READINGS_SHOWN)),
        limit=limit,
        notice=next(iter(notices.values()), None),
        needs=tuple(
            NextNeed(
                tags[key],
                demand.over(MONTH).chance_above(0),
                demand.over(YEAR).chance_above(0),
            )
            for key, demand in demands.items()
        ),
    )


def _events(keys: list[int], tags: dict[int, str]) -> Iterator[PastEvent]:
    rows = Installation.objects.filter(position__in=keys).select_related("item")
    units = _newest(rows, "installed_at", 2 * MOST_SHOWN)
    sources = (_fitted(units, tags), _removed(units, tags), _inspected(keys, tags))
    return merge(*sources, key=lambda one: one.at, reverse=True)


def _newest(rows: QuerySet[Any], moment: str, most: int) -> list[Any]:
    """Of a few positions all rows are read and sorted here: asked for an order, SQLite walks the whole plant in it."""
    found = sorted(rows.order_by(), key=lambda one: (getattr(one, moment), one.pk), reverse=True)
    return found[:most]


def _fitted(units: list[Installation], tags: dict[int, str]) -> Iterator[PastEvent]:
    for unit in units:
        until = unit.temporary_until
        what = _("fitted for a limited time") if until else _("fitted")
        yield PastEvent(unit.installed_at, what, tags[unit.position_id], _number(unit), _why(unit))


def _why(unit: Installation) -> str:
    """Why it was fitted, and who let it run until when."""
    until = unit.temporary_until and _("until {day}").format(day=date_format(unit.temporary_until))
    name = unit.approved_by and _("approved by {name}").format(name=unit.approved_by)
    awaits = _("awaits approval") if unit.awaits_approval else ""
    parts = (unit.installed_why, until, name, unit.approval_reference, awaits)
    return ", ".join(part for part in parts if part)


def _removed(units: list[Installation], tags: dict[int, str]) -> Iterator[PastEvent]:
    ended = [unit for unit in units if unit.removed_at is not None]
    for unit in sorted(ended, key=lambda one: one.removed_at or one.installed_at, reverse=True):
        assert unit.removed_at is not None
        words = [unit.get_ended_by_display()]
        if unit.mechanism:
            words.append(unit.get_mechanism_display())
        if unit.running_hours is not None:
            words.append(_("{hours:,.0f} h run").format(hours=ShownNumber(unit.running_hours)))
        note = ", ".join(part for part in (unit.cause, unit.note, unit.work_order) if part)
        yield PastEvent(
            unit.removed_at,
            _("came off: {why}").format(why=", ".join(words)),
            tags[unit.position_id],
            _number(unit),
            note,
            unit.ended_by in FAILED,
        )


def _number(unit: Installation) -> str:
    return unit.item.stock_number if unit.item else ""


def _inspected(keys: list[int], tags: dict[int, str]) -> Iterator[PastEvent]:
    for row in _newest(Inspection.objects.filter(position__in=keys), "at", MOST_SHOWN + 1):
        found = []
        if row.elongation_percent is not None:
            found.append(
                _("chain wear {percent} %").format(percent=f"{ShownNumber(row.elongation_percent):.3g}")
            )
        if row.hooked_teeth is not None:
            found.append(_("teeth hooked") if row.hooked_teeth else _("teeth not hooked"))
        what = _("inspected: {found}").format(found=", ".join(found) or _("nothing measured"))
        yield PastEvent(row.at, what, tags[row.position_id], note=row.note)

"""The only writer of installations and inspections, with `many`, which writes those of a file.

Every writer locks the position first, so that two people cannot record two units there at once.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise
from typing import Any, TypedDict, Unpack

from django.db import transaction
from django.db.models import Min, Q
from django.utils import timezone

from drives.models import AgeBasis, EndedBy, Inspection, Installation, Plant, Position
from drives.service_record import unit_events
from drives.service_record.pieces_out import lock_levels, refuse_returned_issue
from inventory.facts import fact
from inventory.models import MovementKind
from inventory.plumbing.events import record as record_event
from inventory.plumbing.record_validation import (
    RecordRefusal,
    day,
    refuse_moment,
    refuse_naive,
    refuse_unsound_columns,
)

HOURS_PER_YEAR = 8760
"""A year of this service. Source: the API contract."""
TENTH = Decimal("0.1")
LEAST_ELONGATION, GREATEST_ELONGATION = -1, 20
"""In percent; the same bounds as the constraint of the record."""


class HistoryRefusal(RecordRefusal):
    """Nothing was recorded of an installation or an inspection."""


class UnitFitted(HistoryRefusal):
    """A unit is fitted at this position: `installation`."""

    def __init__(self, installation: Installation) -> None:
        tag, since = installation.position.tag, day(installation.installed_at)
        super().__init__(fact("unit_already_fitted", position=tag, installed_on=since), field="position")
        self.installation = installation


class NothingFitted(HistoryRefusal):
    """There is no unit whose removal could be recorded."""


class InstallationsOverlap(HistoryRefusal):
    """Another unit was fitted there at that time: `installation`."""

    def __init__(self, position: Position, installation: Installation, *, field: str) -> None:
        values = {"position": position.tag, "installed_on": day(installation.installed_at)}
        if installation.removed_at is None:
            found = fact("overlaps_fitted_unit", **values)
        else:
            found = fact("overlaps_earlier_unit", **values, removed_on=day(installation.removed_at))
        super().__init__(found, field=field)
        self.installation = installation


Units = Sequence[Installation]


class InstallationEnd(TypedDict, total=False):
    """How an installation ended; refused without a moment and a reason."""

    removed_at: datetime
    ended_by: str
    mechanism: str
    cause: str
    part: str
    running_hours: Decimal | None
    age_basis: str
    work_order: str


END_FIELDS = tuple(InstallationEnd.__annotations__)
INSTALLATION_FIELDS = (
    *END_FIELDS,
    *("item_id", "specification_id", "stock_entry_id", "installed_at", "installed_why"),
)


def install(position: Position, *, approval_follows: bool = False, **columns: Any) -> Installation:
    """Record that a unit was fitted; the item's specification of that day is kept with it."""
    unit = new_unit(position, columns)
    if not approval_follows:
        refuse_unapproved(unit)
    check_unit(unit, timezone.now())
    with transaction.atomic():
        lock_position(position)
        fitted = fitted_at(position)
        if fitted is not None:
            raise UnitFitted(fitted)
        _refuse_overlap(unit)
        _refuse_piece_on_shelf(unit)
        unit.save(force_insert=True)
        unit_events.publish("begun", unit, timezone.now())
    return unit


def withdraw(unit: Installation, *, reason: str, by: str) -> None:
    """The unit never was on the position: its record goes, with its approvals. What came off is removed instead."""
    with transaction.atomic():
        lock_position(unit.position)
        current = _still_fitted(unit)
        order = current.begun_for.first()
        if order is not None:
            found = fact("installation_begun_by_order", work_order=order.external_id)
            raise HistoryRefusal(found, field="installation")
        record_event(
            "installation.withdrawn",
            aggregate=f"position/{current.position.tag}",
            occurred_at=timezone.now(),
            plant=Plant.objects.get(areas__equipment__drives=current.position.drive_id).code,
            data={
                "installation": current.pk,
                "position": current.position.tag,
                "item": current.item.stock_number if current.item else None,
                "movement": current.stock_entry_id,
                "installed_at": current.installed_at,
                "reason": reason,
                "withdrawn_by": by,
            },
        )
        current.approvals.all().delete()
        current.delete()


def remove(where: Position | Installation, *, note: str = "", **end: Unpack[InstallationEnd]) -> Installation:
    """Record a removal; without a meter the running hours follow from the calendar, if the drive's hours are known."""
    position = where if isinstance(where, Position) else where.position
    with transaction.atomic():
        lock_position(position)
        unit = _still_fitted(where)
        for name, value in end.items():
            setattr(unit, name, value)
        complete_end(unit)
        if note:
            unit.note = f"{unit.note}\n{note}".strip()
        check_unit(unit, timezone.now())
        _refuse_overlap(unit)
        unit.save(update_fields=[*END_FIELDS, "note", "updated_at"])
        unit_events.publish("ended", unit, timezone.now())
    return unit


def correct_installations(
    position: Position, *, dropped: Units, changed: Units, begun: Units, at: datetime
) -> None:
    """Correct the installations of a position after a work-order message: a failure reported late, changed or withdrawn.

    What people recorded keeps its beginning and its end; the feed only divides such a service interval and joins it again.
    """
    with transaction.atomic():
        lock_position(position)
        for unit in dropped:
            if unit.approvals.exists():
                found = fact("installation_has_approval", installed_on=day(unit.installed_at))
                raise HistoryRefusal(found, field="position")
            unit.delete()
        # Ended units are saved before the one still fitted: the database allows one open installation per position at any time.
        for unit in sorted(changed, key=lambda unit: unit.removed_at is None):
            check_unit(unit, at)
            unit.save(update_fields=[*INSTALLATION_FIELDS, "updated_at"])
        for unit in sorted(begun, key=lambda unit: unit.removed_at is None):
            check_unit(unit, at)
            unit.save(force_insert=True)
        _refuse_any_overlap(position)


def record_inspection(position: Position, **columns: Any) -> Inspection:
    """Record what somebody found at a position."""
    inspection = Inspection(position=position, **columns)
    first = Installation.objects.filter(position=position).aggregate(first=Min("installed_at"))["first"]
    check_inspection(inspection, first)
    inspection.save(force_insert=True)
    return inspection


def check_inspection(inspection: Inspection, first_installed_at: datetime | None) -> None:
    """Where no unit is recorded at its position, nothing is known of the beginning."""
    refuse_moment("at", inspection.at, timezone.now(), HistoryRefusal)
    is_measured = inspection.elongation_percent is not None or inspection.hooked_teeth is not None
    if not is_measured and not inspection.note.strip():
        raise HistoryRefusal(fact("inspection_without_finding"), field="elongation_percent")
    refuse_unsound_columns(inspection, HistoryRefusal)
    _check_hours(inspection.running_hours)
    seen = inspection.elongation_percent
    if seen is not None and not LEAST_ELONGATION <= seen <= GREATEST_ELONGATION:
        bounds = {"least_percent": LEAST_ELONGATION, "greatest_percent": GREATEST_ELONGATION}
        raise HistoryRefusal(fact("elongation_out_of_range", **bounds), field="elongation_percent")
    if first_installed_at is not None and inspection.at < first_installed_at:
        values = {"position": inspection.position.tag, "installed_on": day(first_installed_at)}
        raise HistoryRefusal(fact("inspection_before_first_unit", **values), field="at")


def fitted_at(position: Position) -> Installation | None:
    """The unit that is fitted there now."""
    return Installation.objects.with_parts().still_fitted().filter(position=position).first()


def calendar_hours(begin: datetime, end: datetime, hours_per_year: int) -> Decimal:
    """Running hours between two moments, when the drive runs so many of the 8,760 hours of a year."""
    elapsed = Decimal((end - begin) // timedelta(seconds=1)) / 3600
    return (elapsed * hours_per_year / HOURS_PER_YEAR).quantize(TENTH, ROUND_HALF_UP)


def age_by_calendar(per_year: int | None, begin: datetime, end: datetime) -> tuple[Decimal | None, str]:
    """Running hours by those of the drive and their basis; None where these are not known."""
    if per_year is None:
        return None, ""
    return calendar_hours(begin, end, per_year), AgeBasis.CALENDAR


def new_unit(position: Position, columns: dict[str, Any]) -> Installation:
    unit = Installation(position=position, **columns)
    if unit.specification is None and unit.item is not None:
        unit.specification = unit.item.specification
    return unit


def _refuse_any_overlap(position: Position) -> None:
    intervals = sorted(
        Installation.objects.filter(position=position).values_list("installed_at", "removed_at"),
        key=lambda one: (one[0], one[1] is None, one[1]),
    )
    for (_, removed_at), (installed_at, _) in pairwise(intervals):
        if removed_at is None or removed_at > installed_at:
            found = fact("two_units_at_one_position", position=position.tag, at_on=day(installed_at))
            raise HistoryRefusal(found, field="removed_at")


def _refuse_piece_on_shelf(unit: Installation) -> None:
    if unit.stock_entry is not None:
        # The level too is locked, after the position: whoever reverses the issue at this moment waits, or has done so.
        lock_levels([unit.stock_entry])
        _check_stock_entry(unit)
        if (found := refuse_returned_issue(unit.stock_entry)) is not None:
            raise HistoryRefusal(found, field="stock_entry")


def lock_position(position: Position) -> None:
    # The row itself is not needed, only its lock: all writers of one position take turns, and take it before any stock level.
    Position.objects.select_for_update().only("pk").get(pk=position.pk)


def _still_fitted(where: Position | Installation) -> Installation:
    if isinstance(where, Position):
        unit = fitted_at(where)
        if unit is None:
            raise NothingFitted(fact("nothing_fitted", position=where.tag), field="position")
        return unit
    unit = Installation.objects.with_parts().get(pk=where.pk)
    if unit.removed_at is not None:
        found = fact("removal_already_recorded", removed_on=day(unit.removed_at))
        raise NothingFitted(found, field="installation")
    return unit


def complete_end(unit: Installation) -> None:
    if not unit.ended_by:
        raise HistoryRefusal(
            fact("end_without_reason", allowed=tuple(map(str, EndedBy.values))), field="ended_by"
        )
    assert unit.removed_at is not None
    refuse_naive("removed_at", unit.removed_at, HistoryRefusal)
    refuse_naive("installed_at", unit.installed_at, HistoryRefusal)
    if unit.removed_at < unit.installed_at:
        found = fact("removed_before_installed", installed_on=day(unit.installed_at))
        raise HistoryRefusal(found, field="removed_at")
    if unit.running_hours is not None:
        unit.age_basis = unit.age_basis or AgeBasis.METER
    else:
        unit.running_hours, unit.age_basis = age_by_calendar(
            unit.position.drive.hours_per_year, unit.installed_at, unit.removed_at
        )


def refuse_unapproved(unit: Installation) -> None:
    if unit.temporary_until is not None and not unit.approved_by.strip():
        raise HistoryRefusal(fact("temporary_unit_without_approver"), field="approved_by")


def check_unit(unit: Installation, now: datetime) -> None:
    if unit.item_id is None and unit.specification_id is None:
        raise HistoryRefusal(fact("installation_without_part"), field="item")
    refuse_moment("installed_at", unit.installed_at, now, HistoryRefusal)
    if unit.removed_at is not None:
        refuse_moment("removed_at", unit.removed_at, now, HistoryRefusal)
    _check_stock_entry(unit)
    refuse_unsound_columns(unit, HistoryRefusal)
    _check_hours(unit.running_hours)


def _check_stock_entry(unit: Installation) -> None:
    entry = unit.stock_entry
    if entry is None or unit.pk is not None:
        return
    if entry.kind != MovementKind.ISSUE or entry.change >= 0:
        found = fact("movement_not_an_issue", movement=entry.pk)
    elif unit.item_id is not None and entry.item_id != unit.item_id:
        numbers = {"issued_item": str(entry.item), "item": str(unit.item)}
        found = fact("movement_of_another_item", movement=entry.pk, **numbers)
    elif Installation.objects.filter(stock_entry=entry).exists():
        found = fact("issue_belongs_to_another_unit", movement=entry.pk)
    else:
        return
    raise HistoryRefusal(found, field="stock_entry")


def _check_hours(running_hours: Decimal | None) -> None:
    if running_hours is not None and running_hours < 0:
        raise HistoryRefusal(fact("value_negative", field="running_hours"), field="running_hours")


def _refuse_overlap(unit: Installation) -> None:
    others = Installation.objects.filter(position_id=unit.position_id).exclude(pk=unit.pk)
    others = others.filter(Q(removed_at__isnull=True) | Q(removed_at__gt=unit.installed_at))
    if unit.removed_at is not None:
        others = others.filter(installed_at__lt=unit.removed_at)
    if (other := others.order_by("installed_at").first()) is not None:
        raise overlap_of(unit, other)


def overlap_of(unit: Installation, other: Installation) -> InstallationsOverlap:
    field = "installed_at" if other.installed_at <= unit.installed_at else "removed_at"
    return InstallationsOverlap(unit.position, other, field=field if unit.removed_at else "installed_at")

"""The only writer of installations and inspections.

Every writer locks the position first, so that two people cannot record two units there at once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from drives.models import AgeBasis, EndedBy, Inspection, Installation, Mechanism, Position
from inventory.facts import fact
from inventory.models import Condition, Item, MovementKind, Specification, StockEntry, Storeroom
from inventory.plumbing.record_validation import (
    RecordRefusal,
    day,
    refuse_moment,
    refuse_naive,
    refuse_unsound_columns,
    word_not_known,
)
from inventory.stores import ledger

HOURS_A_YEAR = 8760
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


@dataclass(frozen=True, slots=True)
class Replaced:
    removed: Installation
    installed: Installation
    issued: ledger.Booked | None


def install(
    position: Position,
    *,
    installed_at: datetime,
    item: Item | None = None,
    specification: Specification | None = None,
    why: str = "",
    stock_entry: StockEntry | None = None,
    temporary_until: date | None = None,
    approved_by: str = "",
    approval_reference: str = "",
    inspect_by: date | None = None,
    differences: Iterable[Any] = (),
    note: str = "",
    at: datetime | None = None,
) -> Installation:
    """Record that a unit was fitted; the item's specification of that day is kept with it."""
    if temporary_until is not None and not approved_by.strip():
        raise HistoryRefusal(fact("temporary_unit_without_approver"), field="approved_by")
    unit = Installation(
        position=position,
        item=item,
        specification=specification or (item.specification if item else None),
        stock_entry=stock_entry,
        installed_at=installed_at,
        installed_why=why,
        temporary_until=temporary_until,
        approved_by=approved_by,
        approval_reference=approval_reference,
        inspect_by=inspect_by,
        differences=list(differences),
        note=note,
    )
    _check_unit(unit, at or timezone.now())
    with transaction.atomic():
        _lock(position)
        fitted = fitted_at(position)
        if fitted is not None:
            raise UnitFitted(fitted)
        _refuse_overlap(unit)
        unit.save(force_insert=True)
    return unit


def remove(
    where: Position | Installation,
    *,
    removed_at: datetime,
    ended_by: str,
    mechanism: str = "",
    cause: str = "",
    part: str = "",
    running_hours: Decimal | None = None,
    age_basis: str = "",
    work_order: str = "",
    note: str = "",
    at: datetime | None = None,
) -> Installation:
    """Record a removal; without a meter the running hours follow from the calendar, if the drive's hours are known."""
    now = at or timezone.now()
    position = where if isinstance(where, Position) else where.position
    with transaction.atomic():
        _lock(position)
        unit = _still_fitted(where)
        _set_end(
            unit,
            removed_at=removed_at,
            ended_by=ended_by,
            mechanism=mechanism,
            cause=cause,
            part=part,
            running_hours=running_hours,
            age_basis=age_basis,
            work_order=work_order,
        )
        if note:
            unit.note = f"{unit.note}\n{note}".strip()
        _check_unit(unit, now)
        _refuse_overlap(unit)
        unit.save(update_fields=[*END_FIELDS, "note", "updated_at"])
    return unit


def replace(
    position: Position,
    *,
    removed_at: datetime,
    ended_by: str,
    item: Item,
    storeroom: Storeroom | None = None,
    by: User | str,
    installed_at: datetime | None = None,
    condition: str = Condition.NEW,
    work_order: str = "",
    reference: str = "",
    end: dict[str, Any] | None = None,
    start: dict[str, Any] | None = None,
    at: datetime | None = None,
) -> Replaced:
    """Remove the unit, issue the next one from the storeroom and install it: all three or none.

    `end` goes to `remove`, `start` to `install`; without a storeroom nothing is issued.
    """
    now = at or timezone.now()
    fitted_on = installed_at or removed_at
    with transaction.atomic():
        removed = remove(
            position, removed_at=removed_at, ended_by=ended_by, work_order=work_order, at=now, **end or {}
        )
        issued = None
        if storeroom is not None:
            issued = ledger.book(
                ledger.Movement(
                    kind=MovementKind.ISSUE,
                    item=item,
                    storeroom=storeroom,
                    quantity=1,
                    by=by,
                    condition=condition,
                    work_order=work_order,
                    position=position.tag,
                    reference=reference,
                    occurred_at=fitted_on,
                )
            )
        entry = issued.entry if issued else None
        installed = install(
            position, item=item, installed_at=fitted_on, stock_entry=entry, at=now, **start or {}
        )
    return Replaced(removed, installed, issued)


def record_past(
    position: Position,
    *,
    installed_at: datetime,
    removed_at: datetime,
    ended_by: str,
    item: Item | None = None,
    specification: Specification | None = None,
    why: str = "",
    mechanism: str = "",
    cause: str = "",
    part: str = "",
    running_hours: Decimal | None = None,
    age_basis: str = "",
    work_order: str = "",
    note: str = "",
    at: datetime | None = None,
) -> Installation:
    """Record an installation that has ended already, as from an import of old records."""
    unit = Installation(
        position=position,
        item=item,
        specification=specification or (item.specification if item else None),
        installed_at=installed_at,
        installed_why=why,
        note=note,
    )
    refuse_moment("installed_at", installed_at, at or timezone.now(), HistoryRefusal)
    _set_end(
        unit,
        removed_at=removed_at,
        ended_by=ended_by,
        mechanism=mechanism,
        cause=cause,
        part=part,
        running_hours=running_hours,
        age_basis=age_basis,
        work_order=work_order,
    )
    _check_unit(unit, at or timezone.now())
    with transaction.atomic():
        _lock(position)
        _refuse_overlap(unit)
        unit.save(force_insert=True)
    return unit


def correct_installations(
    position: Position,
    *,
    dropped: Sequence[Installation] = (),
    changed: Sequence[Installation] = (),
    begun: Sequence[Installation] = (),
    at: datetime | None = None,
) -> None:
    """Correct the installations of a position after a work-order message: a failure reported late, changed or withdrawn.

    What people recorded keeps its beginning and its end; the feed only divides such a service interval and joins it again.
    """
    now = at or timezone.now()
    with transaction.atomic():
        _lock(position)
        for unit in dropped:
            _refuse_approved(unit)
            unit.delete()
        # Ended units are saved before the one still fitted: the database allows one open installation per position at any time.
        for unit in sorted(changed, key=lambda unit: unit.removed_at is None):
            _check_unit(unit, now)
            unit.save(update_fields=[*INSTALLATION_FIELDS, "updated_at"])
        for unit in sorted(begun, key=lambda unit: unit.removed_at is None):
            _check_unit(unit, now)
            unit.save(force_insert=True)
        _refuse_any_overlap(position)


def record_inspection(
    position: Position,
    *,
    at: datetime,
    elongation_percent: Decimal | None = None,
    hooked_teeth: bool | None = None,
    running_hours: Decimal | None = None,
    note: str = "",
    now: datetime | None = None,
) -> Inspection:
    """Record what somebody found at a position."""
    refuse_moment("at", at, now or timezone.now(), HistoryRefusal)
    if elongation_percent is None and hooked_teeth is None and not note.strip():
        raise HistoryRefusal(fact("inspection_without_finding"), field="elongation_percent")
    inspection = Inspection(
        position=position,
        at=at,
        elongation_percent=elongation_percent,
        hooked_teeth=hooked_teeth,
        running_hours=running_hours,
        note=note,
    )
    refuse_unsound_columns(inspection, HistoryRefusal)
    _check_hours(inspection.running_hours)
    seen = inspection.elongation_percent
    if seen is not None and not LEAST_ELONGATION <= seen <= GREATEST_ELONGATION:
        bounds = {"least_percent": LEAST_ELONGATION, "greatest_percent": GREATEST_ELONGATION}
        raise HistoryRefusal(fact("elongation_out_of_range", **bounds), field="elongation_percent")
    inspection.save(force_insert=True)
    return inspection


def fitted_at(position: Position) -> Installation | None:
    """The unit that is fitted there now."""
    return Installation.objects.with_parts().still_fitted().filter(position=position).first()


def calendar_hours(begin: datetime, end: datetime, hours_per_year: int) -> Decimal:
    """Running hours between two moments, when the drive runs so many of the 8,760 hours of a year."""
    elapsed = Decimal((end - begin) // timedelta(seconds=1)) / 3600
    return (elapsed * hours_per_year / HOURS_A_YEAR).quantize(TENTH, ROUND_HALF_UP)


END_FIELDS = (
    "removed_at",
    "ended_by",
    "mechanism",
    "cause",
    "part",
    "running_hours",
    "age_basis",
    "work_order",
)


INSTALLATION_FIELDS = (*END_FIELDS, "item", "specification", "stock_entry", "installed_at", "installed_why")


def _refuse_approved(unit: Installation) -> None:
    if unit.approvals.exists():
        found = fact("installation_has_approval", installed_on=day(unit.installed_at))
        raise HistoryRefusal(found, field="position")


def _refuse_any_overlap(position: Position) -> None:
    intervals = sorted(
        Installation.objects.filter(position=position).values_list("installed_at", "removed_at"),
        key=lambda one: (one[0], one[1] is None, one[1]),
    )
    for (_, removed_at), (installed_at, _) in pairwise(intervals):
        if removed_at is None or removed_at > installed_at:
            found = fact("two_units_at_one_position", position=position.tag, at_on=day(installed_at))
            raise HistoryRefusal(found, field="removed_at")


def _lock(position: Position) -> None:
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


def _set_end(unit: Installation, **end: Any) -> None:
    for name in END_FIELDS:
        setattr(unit, name, end[name])
    if not unit.ended_by:
        raise HistoryRefusal(
            fact("end_without_reason", allowed=tuple(map(str, EndedBy.values))), field="ended_by"
        )
    refuse_naive("removed_at", end["removed_at"], HistoryRefusal)
    refuse_naive("installed_at", unit.installed_at, HistoryRefusal)
    if end["removed_at"] < unit.installed_at:
        found = fact("removed_before_installed", installed_on=day(unit.installed_at))
        raise HistoryRefusal(found, field="removed_at")
    if unit.running_hours is not None:
        unit.age_basis = unit.age_basis or AgeBasis.METER
        return
    per_year = unit.position.drive.hours_per_year
    unit.age_basis = ""
    if per_year is not None:
        unit.running_hours = calendar_hours(unit.installed_at, end["removed_at"], per_year)
        unit.age_basis = AgeBasis.CALENDAR


def _check_unit(unit: Installation, now: datetime) -> None:
    if unit.item_id is None and unit.specification_id is None:
        raise HistoryRefusal(fact("installation_without_part"), field="item")
    refuse_moment("installed_at", unit.installed_at, now, HistoryRefusal)
    if unit.removed_at is not None:
        refuse_moment("removed_at", unit.removed_at, now, HistoryRefusal)
    if unit.mechanism and unit.mechanism not in Mechanism.values:
        raise HistoryRefusal(word_not_known("mechanism", unit.mechanism, Mechanism.values), field="mechanism")
    if unit.ended_by and unit.ended_by not in EndedBy.values:
        raise HistoryRefusal(word_not_known("ended_by", unit.ended_by, EndedBy.values), field="ended_by")
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
    elif StockEntry.objects.filter(reverses=entry).exists():
        found = fact("issue_was_reversed", movement=entry.pk)
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
    other = others.order_by("installed_at").first()
    if other is None:
        return
    field = "installed_at" if other.installed_at <= unit.installed_at else "removed_at"
    raise InstallationsOverlap(unit.position, other, field=field if unit.removed_at else "installed_at")

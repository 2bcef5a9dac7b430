"""Temporary substitutes: who approved one, until when and with what differences; a longer time needs another approval."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from drives.models import Approval, Installation
from drives.substitutes.position_requirement import position_requirement, positions_with_requirements
from inventory.facts import Refusal, fact
from inventory.interchange.vocabulary import Outcome
from inventory.models import Event, PartKind
from inventory.plumbing.events import record
from inventory.plumbing.record_validation import refuse_unsound_columns

NOTICE_DAYS = 3
LONGEST_DAYS = 366
"""A substitute that stays longer is not temporary: change the position's requirement instead."""


def approve(unit: Installation, *, by: str, **columns: Any) -> Approval:
    """Let the unit run until a day; what differs from the requirement is kept as it is recorded now."""
    now = timezone.now()
    approval = Approval(installation=unit, recorded_by_name=by[:150], **columns)
    _check(approval, local_day(unit, now))
    with transaction.atomic():
        locked = Installation.objects.select_for_update(of=("self",)).with_parts().get(pk=unit.pk)
        if locked.removed_at is not None:
            raise Refusal(fact("unit_already_removed", position=locked.position.tag))
        locked.temporary_until, locked.approved_by = approval.until_on, approval.approved_by
        locked.approval_reference, locked.inspect_by = approval.reference, approval.inspect_by
        # Saved first: as a temporary unit it is no longer what the position wants, so it is not compared with itself.
        locked.save(update_fields=[*COLUMNS_OF_AN_APPROVAL, "updated_at"])
        locked.differences = approval.differences = differences(locked)
        locked.save(update_fields=["differences"])
        approval.save(force_insert=True)
        _record_event("substitution.approved", locked, now, approval=approval.pk)
    return approval


COLUMNS_OF_AN_APPROVAL = ("temporary_until", "approved_by", "approval_reference", "inspect_by", "differences")


def announce_ends(now: datetime | None = None) -> tuple[int, int]:
    """An event for each substitute whose time ends within three days, and one for each that is overdue.

    Once for each date: another approval sets another date. Gives the number of either.
    """
    moment = now or timezone.now()
    expiring = overdue = 0
    units = Installation.objects.still_fitted().filter(temporary_until__isnull=False).order_by("pk")
    for unit in units.select_related("position__drive__equipment__area__plant", "item", "specification"):
        assert unit.temporary_until is not None
        left = (unit.temporary_until - local_day(unit, moment)).days
        if left < 0:
            overdue += _record_event_once("substitution.overdue", unit, moment)
        elif left <= NOTICE_DAYS:
            expiring += _record_event_once("substitution.expiring", unit, moment)
    return expiring, overdue


def in_temporary_states(words: Iterable[str], now: datetime) -> Q:
    """Units that are temporary (`true`) or not (`false`); still fitted and `expiring` within three days or `overdue`."""
    today = now.date()
    notice = (today, today + timedelta(days=NOTICE_DAYS))
    known = {
        "true": Q(temporary_until__isnull=False),
        "false": Q(temporary_until__isnull=True),
        "expiring": Q(removed_at__isnull=True, temporary_until__range=notice),
        "overdue": Q(removed_at__isnull=True, temporary_until__lt=today),
    }
    found = Q(pk__in=[])
    for word in words:
        found |= known[word]
    return found


def local_day(unit: Installation, moment: datetime) -> date:
    """The date at the plant: a substitute may run to the end of its last day there."""
    return moment.astimezone(ZoneInfo(unit.position.drive.equipment.area.plant.timezone)).date()


def differences(unit: Installation) -> list[Any]:
    """The checks of the unit at its position that it does not simply pass."""
    part = unit.specification or (unit.item.specification if unit.item else None)
    if part is None or part.kind != PartKind.SPROCKET:
        return list(unit.differences)
    place = position_requirement(positions_with_requirements().get(pk=unit.position_id))
    return [
        {
            "aspect": one.aspect.value,
            "outcome": one.outcome.value,
            "required": one.required,
            "offered": one.offered,
            "facts": [found.as_json() for found in one.facts],
        }
        for one in place.verdict_of(part).checks
        if one.outcome is not None and one.outcome is not Outcome.OK
    ]


def _check(approval: Approval, today: date) -> None:
    if not approval.approved_by.strip():
        raise Refusal(fact("approver_required"), field="approved_by")
    refuse_unsound_columns(approval)
    if approval.until_on < today:
        raise Refusal(fact("approval_already_over"), field="until_on")
    if approval.until_on > today + timedelta(days=LONGEST_DAYS):
        raise Refusal(fact("approval_too_long", limit_days=LONGEST_DAYS), field="until_on")
    if approval.inspect_by is not None and not today <= approval.inspect_by <= approval.until_on:
        raise Refusal(fact("approval_inspection_outside"), field="inspect_by")


def _record_event_once(kind: str, unit: Installation, at: datetime) -> int:
    with transaction.atomic():
        Installation.objects.select_for_update(of=("self",)).get(pk=unit.pk)
        known = Event.objects.filter(type=kind, aggregate=f"installation/{unit.pk}")
        if known.filter(data__until_on=str(unit.temporary_until)).exists():
            return 0
        _record_event(kind, unit, at)
    return 1


def _record_event(kind: str, unit: Installation, at: datetime, **more: Any) -> None:
    plant = unit.position.drive.equipment.area.plant
    record(
        kind,
        aggregate=f"installation/{unit.pk}",
        occurred_at=at,
        plant=plant.code,
        data={
            "installation": unit.pk,
            "position": unit.position.tag,
            "item": unit.item.stock_number if unit.item else None,
            "until_on": str(unit.temporary_until),
            "inspect_by": unit.inspect_by,
            "approved_by": unit.approved_by,
            "reference": unit.approval_reference,
        }
        | more,
    )

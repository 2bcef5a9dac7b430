"""Temporary substitutes: who approved one, until when and with what differences; a longer time needs another approval."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from drives.models import Approval, Installation, Plant, SubstituteApproval
from drives.substitutes.fitting_verdict import differences_of, verdict_at
from inventory.facts import Refusal, fact
from inventory.models import Event
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
        issuer = locked.stock_entry.recorded_by_name if locked.stock_entry else ""
        plant = locked.position.drive.equipment.area.plant
        refuse_own_approval(plant, [approval.approved_by, by], requesters=[locked.recorded_by_name, issuer])
        _refuse_second(locked, approval)
        locked.temporary_until, locked.approved_by = approval.until_on, approval.approved_by
        locked.approval_reference, locked.inspect_by = approval.reference, approval.inspect_by
        locked.awaits_approval = False
        locked.save(update_fields=[*COLUMNS_OF_AN_APPROVAL, "updated_at"])
        # Compared only now: a temporary unit is not what its position requires, so it is not compared with itself.
        approval.differences = locked.differences = differences(locked) or locked.differences
        locked.save(update_fields=["differences"])
        approval.save(force_insert=True)
        _record_event("substitution.approved", locked, now, approval=approval.pk)
    return approval


def keep_approval(unit: Installation, by: str) -> Approval:
    """The approval that was given with the record of the unit itself."""
    assert unit.temporary_until is not None
    approval = Approval(
        installation=unit,
        approved_by=unit.approved_by,
        reference=unit.approval_reference,
        until_on=unit.temporary_until,
        inspect_by=unit.inspect_by,
        differences=unit.differences,
        recorded_by_name=by[:150],
    )
    approval.save(force_insert=True)
    return approval


def refuse_own_approval(plant: Plant, approvers: Iterable[str], *, requesters: Iterable[str]) -> None:
    """Four eyes: who has issued or recorded the unit does not approve it, where the plant needs an approval."""
    if plant.substitute_approval == SubstituteApproval.NOT_NEEDED:
        return
    same = {_person(name) for name in approvers} & {_person(name) for name in requesters} - {""}
    if same:
        raise Refusal(fact("approver_is_requester", requested_by=min(same)), field="approved_by")


def _person(name: str) -> str:
    return " ".join(name.casefold().split())


def _refuse_second(unit: Installation, approval: Approval) -> None:
    """One substitution is approved once; only a longer time is another approval. Asked with the unit locked."""
    known = unit.temporary_until if unit.approved_by.strip() else None
    if known is not None and approval.until_on <= known:
        values = {"approved_by": unit.approved_by, "until_on": known.isoformat()}
        raise Refusal(fact("substitution_already_approved", **values))


COLUMNS_OF_AN_APPROVAL = (
    *("temporary_until", "approved_by", "approval_reference", "inspect_by"),
    "awaits_approval",
)


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
    today = timezone.localdate(now)
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
    found = verdict_at(unit.position, item=unit.item, specification=unit.specification)
    return list(unit.differences) if found is None else differences_of(found.checks)


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
        data=event_data(unit) | more,
    )


def event_data(unit: Installation) -> dict[str, Any]:
    return {
        "installation": unit.pk,
        "position": unit.position.tag,
        "item": unit.item.stock_number if unit.item else None,
        "until_on": str(unit.temporary_until),
        "inspect_by": unit.inspect_by,
        "approved_by": unit.approved_by,
        "reference": unit.approval_reference,
    }

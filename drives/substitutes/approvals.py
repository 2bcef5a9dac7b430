"""Who let a substitute run, until when and with what differences; a longer time needs another approval."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from drives.models import Approval, Installation, Position
from drives.place.verdict import judge_for_place
from drives.substitutes.requirement import place_asked
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.interchange.vocabulary import Outcome
from inventory.models import Event, PartKind
from inventory.plumbing.events import record
from inventory.plumbing.record_validation import RecordRefusal, refuse_unsound_columns

TOLD_DAYS_BEFORE = 3
LONGEST_DAYS = 366
"""A substitute that is to stay longer is no temporary one: change the position's requirement instead."""


class ApprovalRefusal(RecordRefusal):
    pass


class UnitGone(ApprovalRefusal):
    def __init__(self, unit: Installation) -> None:
        super().__init__("installation", f"The unit at {unit.position.tag} came off already.")


def approve(
    unit: Installation,
    *,
    approved_by: str,
    until_on: date,
    reference: str = "",
    inspect_by: date | None = None,
    by: str,
    at: datetime | None = None,
) -> Approval:
    """Let the unit run until a day; what differs from the requirement is kept as the records say it now."""
    now = at or timezone.now()
    approval = Approval(
        installation=unit,
        approved_by=approved_by,
        reference=reference,
        until_on=until_on,
        inspect_by=inspect_by,
        recorded_by_name=by[:150],
    )
    _check(approval, local_day(unit, now))
    with transaction.atomic():
        standing = Installation.objects.select_for_update(of=("self",)).with_parts().get(pk=unit.pk)
        if standing.removed_at is not None:
            raise UnitGone(standing)
        approval.differences = differences(standing)
        approval.save(force_insert=True)
        standing.temporary_until, standing.approved_by = until_on, approved_by
        standing.approval_reference, standing.inspect_by = reference, inspect_by
        standing.differences = approval.differences
        standing.save(update_fields=[*KEPT_WITH_THE_UNIT, "updated_at"])
        _tell("substitution.approved", standing, now, approval=approval.pk)
    return approval


KEPT_WITH_THE_UNIT = ("temporary_until", "approved_by", "approval_reference", "inspect_by", "differences")


def watch(now: datetime | None = None) -> tuple[int, int]:
    """Tell of each substitute whose time ends within three days, and of each that has run over, once for each date.

    Gives how many of either were told. An approval sets another date, so the telling begins anew.
    """
    moment = now or timezone.now()
    expiring = overdue = 0
    for unit in temporary_units().order_by("pk"):
        assert unit.temporary_until is not None
        left = (unit.temporary_until - local_day(unit, moment)).days
        if left < 0:
            overdue += _tell_once("substitution.overdue", unit, moment)
        elif left <= TOLD_DAYS_BEFORE:
            expiring += _tell_once("substitution.expiring", unit, moment)
    return expiring, overdue


def which_are(words: Iterable[str], now: datetime) -> Q:
    """Units that are temporary (`true`), are not (`false`), end within three days or have run over, still fitted."""
    today = now.date()
    soon = (today, today + timedelta(days=TOLD_DAYS_BEFORE))
    known = {
        "true": Q(temporary_until__isnull=False),
        "false": Q(temporary_until__isnull=True),
        "expiring": Q(removed_at__isnull=True, temporary_until__range=soon),
        "overdue": Q(removed_at__isnull=True, temporary_until__lt=today),
    }
    found = Q(pk__in=[])
    for word in words:
        found |= known[word]
    return found


def temporary_units() -> Any:
    places = Installation.objects.still_fitted().filter(temporary_until__isnull=False)
    return places.select_related("position__drive__equipment__area__plant", "item", "specification")


def local_day(unit: Installation, moment: datetime) -> date:
    """The day that it is at the plant; a substitute may run to the end of its last one."""
    return moment.astimezone(ZoneInfo(unit.position.drive.equipment.area.plant.timezone)).date()


def differences(unit: Installation) -> list[Any]:
    """What the verdict says of the unit for its place, save what fits as it is."""
    part = unit.specification or (unit.item.specification if unit.item else None)
    if part is None or part.kind != PartKind.SPROCKET:
        return list(unit.differences)
    place = place_asked(
        Position.objects.with_drive().prefetch_related("drive__positions").get(pk=unit.position_id)
    )
    verdict = judge_for_place(
        place.required, attributes_of(part), duty=place.duty, practice=current_practice()
    )
    return [
        {
            "aspect": one.aspect.value,
            "outcome": one.outcome.value,
            "required": one.required,
            "offered": one.offered,
            "facts": [fact.as_json() for fact in one.facts],
        }
        for one in verdict.checks
        if one.outcome is not None and one.outcome is not Outcome.OK
    ]


def _check(approval: Approval, today: date) -> None:
    if not approval.approved_by.strip():
        raise ApprovalRefusal("approved_by", "Say who allowed it: give approved_by.")
    refuse_unsound_columns(approval)
    if approval.until_on < today:
        raise ApprovalRefusal("until_on", "until_on is over already: give the last day on which it may run.")
    if approval.until_on > today + timedelta(days=LONGEST_DAYS):
        raise ApprovalRefusal(
            "until_on",
            f"At most {LONGEST_DAYS} days are temporary: for longer, change what the position requires.",
        )
    if approval.inspect_by is not None and not today <= approval.inspect_by <= approval.until_on:
        raise ApprovalRefusal("inspect_by", "inspect_by lies from today to until_on.")


def _tell_once(kind: str, unit: Installation, at: datetime) -> int:
    with transaction.atomic():
        Installation.objects.select_for_update(of=("self",)).get(pk=unit.pk)
        known = Event.objects.filter(type=kind, aggregate=f"installation/{unit.pk}")
        if known.filter(data__until_on=str(unit.temporary_until)).exists():
            return 0
        _tell(kind, unit, at)
    return 1


def _tell(kind: str, unit: Installation, at: datetime, **more: Any) -> None:
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

"""Records that a unit was fitted, with the verdict of that moment and what the plant asks of a unit that does not simply fit."""

from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.utils import timezone

from drives.models import Installation, Plant, Position, RecordedVerdict, SubstituteApproval
from drives.service_record import history
from drives.substitutes.approvals import event_data, keep_approval, refuse_own_approval
from drives.substitutes.fitting_verdict import (
    NOT_SIMPLY_FITTED,
    FittingVerdict,
    VerdictRefusal,
    checked_verdict,
    differences_of,
    record_fitting,
    verdict_at,
)
from inventory.facts import fact
from inventory.models import StockEntry
from inventory.plumbing.events import record


class ApprovalNeededFirst(VerdictRefusal):
    """The plant wants the approval of another person before such a unit is fitted."""


def fit(
    position: Position, *, by: str, quoted: str = "", differences: Iterable[Any] = (), **columns: Any
) -> Installation:
    """Record a unit by the columns of `history.install`; `by` records it.

    Where the plant needs an approval that may follow, the unit awaits it; where it is needed before, the unit is refused. A
    temporary unit always awaits one.
    """
    entry: StockEntry | None = columns.get("stock_entry")
    approver = (columns.get("approved_by") or "").strip()
    with transaction.atomic():
        # Locked first: the verdict must not be of a place that another unit has taken meanwhile.
        history.lock_position(position)
        found = verdict_at(position, item=columns.get("item"), specification=columns.get("specification"))
        reason = columns.get("installed_why") or _reason_of_issue(entry, found)
        checked_verdict(found, quoted=quoted, reason=reason, field="installed_why")
        is_temporary = columns.get("temporary_until") is not None
        awaits = _awaits_approval(found, position, approver, by, entry) or (is_temporary and not approver)
        frozen = differences_of(found.checks) if found else []
        unit = history.install(
            position,
            approval_follows=not approver,
            recorded_by_name=by,
            awaits_approval=awaits,
            differences=[*frozen, *differences],
            **columns,
        )
        record_fitting(found, unit, reason)
        if approver and unit.temporary_until is not None:
            keep_approval(unit, by)
        if awaits:
            publish_awaiting(unit, found.grade if found else None)
    return unit


def _reason_of_issue(entry: StockEntry | None, found: FittingVerdict | None) -> str:
    """What was said when the part was issued with this very verdict need not be said again."""
    if entry is None or found is None:
        return ""
    issued = RecordedVerdict.objects.filter(entry=entry, quote=found.quote).first()
    return issued.reason if issued is not None else ""


def _awaits_approval(
    found: FittingVerdict | None, position: Position, approver: str, by: str, entry: StockEntry | None
) -> bool:
    plant = Plant.objects.get(areas__equipment__drives=position.drive_id)
    if approver:
        issuer = entry.recorded_by_name if entry is not None else ""
        refuse_own_approval(plant, [approver, *([by] if issuer else [])], requesters=[issuer or by])
    needed = found is not None and found.grade in NOT_SIMPLY_FITTED
    if approver or not needed or plant.substitute_approval == SubstituteApproval.NOT_NEEDED:
        return False
    if plant.substitute_approval == SubstituteApproval.BEFORE_FITTING:
        assert found is not None
        values = {"position": position.tag, "grade": found.grade.value}
        raise ApprovalNeededFirst(fact("approval_needed_before_fitting", **values), found)
    return True


def publish_awaiting(unit: Installation, grade: str | None) -> None:
    plant = Plant.objects.get(areas__equipment__drives=unit.position.drive_id)
    record(
        "substitution.awaits_approval",
        aggregate=f"installation/{unit.pk}",
        occurred_at=timezone.now(),
        plant=plant.code,
        data=event_data(unit) | {"grade": grade, "requested_by": unit.recorded_by_name},
    )

"""What another rule of approval would have asked for: the units of the last year that do not simply fit."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from drives.models import RecordedVerdict, SubstituteApproval
from drives.substitutes.fitting_verdict import NOT_SIMPLY_FITTED

A_YEAR = timedelta(days=365)
MOST_LISTED = 50


@dataclass(frozen=True, kw_only=True)
class ApprovalEffect:
    """Of the units fitted in a plant with a verdict; `concerned` do not simply fit, `without` of them run and nobody approved them."""

    approval: str
    approver: str
    phone: str
    fitted: int
    concerned: int
    without: int
    rows: tuple[RecordedVerdict, ...]
    """The newest of the concerned; none where no approval is needed."""

    @property
    def is_needed(self) -> bool:
        return self.approval != SubstituteApproval.NOT_NEEDED

    @property
    def comes_first(self) -> bool:
        return self.approval == SubstituteApproval.BEFORE_FITTING

    @property
    def is_cut(self) -> bool:
        return self.is_needed and self.concerned > len(self.rows)


def approval_effect(plant: str, values: Mapping[str, Any], now: datetime) -> ApprovalEffect:
    """`values` are those of the form; four queries."""
    fitted = RecordedVerdict.objects.filter(
        installation__installed_at__gte=now - A_YEAR,
        position__drive__equipment__area__plant__code=plant,
    )
    concerned = fitted.filter(grade__in=NOT_SIMPLY_FITTED)
    is_needed = values.get("substitute_approval") != SubstituteApproval.NOT_NEEDED
    newest = concerned.select_related("installation", "position", "item").order_by(
        "-installation__installed_at"
    )
    return ApprovalEffect(
        approval=values.get("substitute_approval", ""),
        approver=values.get("substitute_approver", ""),
        phone=values.get("substitute_approver_phone", ""),
        fitted=fitted.count(),
        concerned=concerned.count(),
        without=concerned.filter(installation__removed_at=None, installation__approved_by="").count(),
        rows=tuple(newest[:MOST_LISTED]) if is_needed else (),
    )

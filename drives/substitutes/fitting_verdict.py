"""The verdict at the moment a part leaves the storeroom for a position, or is fitted there: told, quoted, frozen."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from drives.models import Installation, Position, RecordedVerdict
from drives.substitutes.position_requirement import position_requirement, positions_with_requirements
from inventory.facts import Refusal, fact
from inventory.interchange.findings import Finding, Verdict
from inventory.interchange.vocabulary import Aspect, Grade, Outcome
from inventory.models import CHAIN_KINDS, Item, PartKind, Specification, StockEntry

NOT_SIMPLY_FITTED = frozenset({Grade.NEEDS_REVIEW, Grade.UNFIT})
"""Whoever issues or fits one of these says why."""
JUDGED_KINDS = CHAIN_KINDS | {PartKind.SPROCKET}
LONGEST_REASON = 200


@dataclass(frozen=True)
class FittingVerdict:
    """`quote` names the verdict: it is the same as long as grade and findings are."""

    position: Position
    item: Item | None
    verdict: Verdict

    @property
    def grade(self) -> Grade:
        return self.verdict.grade

    @property
    def told(self) -> tuple[Finding, ...]:
        """The checks that decide; and what the drive itself forbids, above all that it lifts, whatever else decides."""
        deciding = self.verdict.deciding
        others = (one for one in self.verdict.checks if one not in deciding)
        duty = (one for one in others if one.aspect is Aspect.DUTY and one.outcome is not Outcome.OK)
        return (*deciding, *duty)

    @property
    def quote(self) -> str:
        name = self.item.stock_number if self.item else ""
        return quote_of(self.position.tag, name, self.verdict)

    @property
    def checks(self) -> list[dict[str, Any]]:
        return [check_as_json(one) for one in self.verdict.checks]


class VerdictRefusal(Refusal):
    """Nothing was booked or recorded; `verdict` is the one that holds now, None where nothing can be judged."""

    def __init__(self, found: Any, verdict: FittingVerdict | None, *, field: str = "") -> None:
        super().__init__(found, field=field)
        self.verdict = verdict


class StaleVerdict(VerdictRefusal):
    """The quoted verdict holds no longer."""


class ReasonNeeded(VerdictRefusal):
    pass


def quote_of(position: str, item: str, verdict: Verdict) -> str:
    """Sixteen digits of a hash over what the verdict says, not over the figures that it says it of."""
    said = [
        (one.aspect.value, one.outcome and one.outcome.value, [found.code for found in one.facts])
        for one in verdict.checks
    ]
    text = json.dumps([position, item, verdict.grade.value, said])
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def check_as_json(one: Finding) -> dict[str, Any]:
    return {
        "aspect": one.aspect.value,
        "outcome": one.outcome.value if one.outcome else None,
        "required": one.required,
        "offered": one.offered,
        "margin": one.margin,
        "facts": [found.as_json() for found in one.facts],
    }


def verdict_at(
    position: Position | None, *, item: Item | None = None, specification: Specification | None = None
) -> FittingVerdict | None:
    """The verdict of the records, whatever lies on the shelves beside it; None for what is no recorded sprocket or chain."""
    part = specification or (item.specification if item else None)
    if position is None or part is None or part.kind not in JUDGED_KINDS:
        return None
    place = position_requirement(positions_with_requirements().get(pk=position.pk))
    return FittingVerdict(place.position, item, place.verdict_of(part, item))


def checked_verdict(
    found: FittingVerdict | None, *, quoted: str, reason: str, field: str
) -> FittingVerdict | None:
    """Refuses a quoted verdict that holds no longer, and a part that does not simply fit without a reason."""
    if quoted and (found is None or found.quote != quoted):
        grade = found.grade.value if found else None
        raise StaleVerdict(fact("quoted_verdict_is_stale", quoted=quoted, grade=grade), found)
    if found is not None and found.grade in NOT_SIMPLY_FITTED and not reason.strip():
        facts = tuple(one.reason for one in found.verdict.deciding)
        code = "unfit_without_reason" if found.grade is Grade.UNFIT else "review_without_reason"
        values = {"position": found.position.tag, "reasons": facts}
        raise ReasonNeeded(fact(code, **values), found, field=field)
    return found


def record_issue(found: FittingVerdict | None, entry: StockEntry) -> None:
    """To be called in the transaction that booked the issue."""
    if found is not None:
        _record(found, entry=entry, reason=entry.reason, by=entry.recorded_by_name)


def record_fitting(found: FittingVerdict | None, unit: Installation, reason: str) -> None:
    """To be called in the transaction that recorded the unit."""
    if found is not None:
        _record(found, installation=unit, reason=reason, by=unit.recorded_by_name)


def differences_of(checks: list[dict[str, Any]]) -> list[Mapping[str, Any]]:
    """The checks that are not simply passed."""
    return [
        {name: value for name, value in one.items() if name != "margin"}
        for one in checks
        if one["outcome"] not in (None, Outcome.OK.value)
    ]


def _record(found: FittingVerdict, *, reason: str, by: str, **of: Any) -> RecordedVerdict:
    return RecordedVerdict.objects.create(
        position=found.position,
        item=found.item,
        grade=found.grade.value,
        quote=found.quote,
        checks=found.checks,
        reason=reason[:LONGEST_REASON],
        recorded_by_name=by,
        **of,
    )

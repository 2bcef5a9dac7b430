"""What an engineer decided of an item, merged into its verdict: never silent, never over a physical no, never along a chain."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import Any

from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, Verdict
from inventory.interchange.requirement import Sprocket
from inventory.interchange.vocabulary import Aspect, BoreType, Grade, Outcome

NOTICED_AFTER_END_DAYS = 30
"""So long a rule that has ended is still named, so that nobody wonders why the answer is another one."""
RULE_SOURCE = (fact("rule_as_recorded"),)
SETTLED = frozenset(Aspect) - {Aspect.DUTY, Aspect.CHAIN_WEAR, Aspect.RULE}
"""What a person may decide once for all: not duty and declared safety, nor how worn the chain is today."""
ESSENTIAL = SETTLED - {Aspect.HUB, Aspect.ENVELOPE, Aspect.RATING}
"""Where the record cannot answer these, somebody has to measure: no decision stands in for it."""
FITS_ALONE = frozenset({Grade.DROP_IN, Grade.WITH_WORK})


class RuleKind(StrEnum):
    REPLACES = "replaces"
    NEVER = "never"


@dataclass(frozen=True, kw_only=True)
class ItemRule:
    """`item` serves in place of `instead_of`, or never may serve; `original` is the sprocket that is replaced."""

    kind: RuleKind
    item: int
    stock_number: str
    instead_of: int | None = None
    instead_of_number: str | None = None
    original: Sprocket | None = None
    given_by: str
    reason: str
    valid_from: date
    valid_until: date | None = None
    names_place: bool = False
    """It was given for this very position or drive."""

    def holds_on(self, day: date) -> bool:
        return self.valid_from <= day and (self.valid_until is None or day <= self.valid_until)

    def ended_before(self, day: date) -> bool:
        return self.valid_until is not None and 0 < (day - self.valid_until).days <= NOTICED_AFTER_END_DAYS

    def said(self, code: str) -> Fact:
        """Who decided it, when, why and until when."""
        values: dict[str, Any] = {"item": self.stock_number, "given_by": self.given_by, "reason": self.reason}
        if self.instead_of is not None:
            values["instead_of"] = self.instead_of_number
        until = self.valid_until and self.valid_until.isoformat()
        return fact(code, **values, from_on=self.valid_from.isoformat(), until_on=until)


def with_rules(
    verdict: Verdict,
    rules: Iterable[ItemRule],
    *,
    offered: Sprocket,
    lifting: bool | None,
    on: date,
    is_wanted: Callable[[ItemRule], bool],
) -> Verdict:
    """The verdict with the rules of this very item; `is_wanted`: the item that the rule replaces is what the place asks for.

    What forbids comes before what allows. Why a rule has no effect, or that it has ended, is a caution.
    """
    given = tuple(rules)
    held = [rule for rule in given if rule.holds_on(on)]
    never = [rule for rule in held if rule.kind is RuleKind.NEVER]
    replacing = [rule for rule in held if rule.kind is RuleKind.REPLACES]
    # On a lifting drive nothing simply fits, so nothing is wanted there: that it lifts is what has to be said.
    wanted = replacing if lifting else [rule for rule in replacing if is_wanted(rule)]
    cautions = [_ended(rule) for rule in given if rule.ended_before(on)]
    cautions += [
        rule.said("rule_original_not_wanted") for rule in replacing if rule.names_place and rule not in wanted
    ]
    refused = tuple(_finding(Outcome.NO, rule.said("rule_never")) for rule in never)
    judged = replace(verdict, findings=(*verdict.findings, *refused))
    hindrance = _hindrance(judged, offered, lifting, is_forbidden=bool(never)) if wanted else None
    if hindrance is not None:
        cautions += [rule.said(hindrance) for rule in wanted]
    elif wanted:
        judged = _settled(judged, wanted)
    return replace(judged, cautions=tuple(dict.fromkeys((*cautions, *judged.cautions))))


def fits_alone(verdict: Verdict) -> bool:
    """By its own attributes, before any rule: so a rule never begins where another one ends."""
    return verdict.grade in FITS_ALONE


def _ended(rule: ItemRule) -> Fact:
    return rule.said("rule_never_ended" if rule.kind is RuleKind.NEVER else "rule_replaces_ended")


def _hindrance(
    verdict: Verdict, offered: Sprocket, lifting: bool | None, *, is_forbidden: bool
) -> str | None:
    if lifting:
        return "rule_not_on_lifting_drive"
    if is_forbidden:
        return "rule_under_one_that_forbids"
    if any(finding.outcome is Outcome.NO for finding in verdict.findings):
        return "rule_not_over_refusal"
    open_checks = (f for f in verdict.findings if f.outcome is Outcome.REVIEW and f.is_unchecked)
    if not _is_described(offered) or any(f.aspect in ESSENTIAL for f in open_checks):
        return "rule_needs_attributes"
    return None


def _is_described(offered: Sprocket) -> bool:
    """Chain, strands, teeth and what sits on the shaft are recorded."""
    seat = offered.bore_mm
    if offered.bore_type in (BoreType.TAPERED, BoreType.QD):
        return None not in (offered.chain, offered.strands, offered.teeth) and bool(offered.bush_size)
    if offered.bore_type is BoreType.HEX:
        seat = offered.hex_across_flats_mm
    return None not in (offered.chain, offered.strands, offered.teeth, offered.bore_type, seat)


def _settled(verdict: Verdict, rules: list[ItemRule]) -> Verdict:
    """What was left to a person is as that person decided it; every finding stays, and names the rule."""
    named = tuple(rule.said("settled_by_rule") for rule in rules)
    findings = tuple(
        replace(
            finding,
            outcome=Outcome.WORK if finding.work else Outcome.OK,
            facts=(*finding.facts, *named),
        )
        if finding.outcome is Outcome.REVIEW and finding.aspect in SETTLED
        else finding
        for finding in verdict.findings
    )
    own = tuple(_finding(Outcome.OK, rule.said("rule_replaces")) for rule in rules)
    return replace(verdict, findings=(*findings, *own))


def _finding(outcome: Outcome, reason: Fact) -> Finding:
    return Finding(Aspect.RULE, outcome, (reason,), sources=RULE_SOURCE)

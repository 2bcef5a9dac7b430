"""What the checks found, and the verdict made of it."""

from collections.abc import Iterable, Mapping
from dataclasses import KW_ONLY, dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import (
    GRADE_OF_OUTCOME,
    OUTCOME_RANK,
    Aspect,
    Grade,
    Operation,
    Outcome,
)
from inventory.interchange.work_cautions import WORK_CAUTIONS

Figure = str | float | int | bool | None
TimeBasis = Literal["estimate", "recorded"]
JUDGEMENT = fact("judgement")


@dataclass(frozen=True, kw_only=True)
class WorkStep:
    """One step of work; minutes are `None` where the plant has no time for it."""

    operation: Operation
    detail: Fact
    minutes: int | None = None
    basis: TimeBasis | None = None

    @property
    def cautions(self) -> tuple[Fact, ...]:
        return WORK_CAUTIONS.get(self.operation, ())


@dataclass(frozen=True)
class Finding:
    """What one check found: the first fact is the reason. `outcome` is None where nothing was required and nothing checked."""

    aspect: Aspect
    outcome: Outcome | None
    facts: tuple[Fact, ...]
    _: KW_ONLY
    required: Figure = None
    offered: Figure = None
    limit: Figure = None
    margin: float | None = None
    sources: tuple[Fact, ...] = (JUDGEMENT,)
    work: tuple[WorkStep, ...] = ()
    is_unchecked: bool = False

    @property
    def reason(self) -> Fact:
        return self.facts[0]

    @property
    def code(self) -> str:
        return self.reason.code

    @property
    def values(self) -> Mapping[str, Any]:
        return self.reason.values

    @property
    def further(self) -> tuple[Fact, ...]:
        return self.facts[1:]

    def for_review(self, *named: Fact) -> "Finding":
        """The same finding left to a person, with what it turns on."""
        return replace(self, outcome=Outcome.REVIEW, facts=(*self.facts, *named))


def compared(
    required: Figure, offered: Figure, *, limit: Figure = None, margin: float | None = None
) -> dict[str, Any]:
    """The figures of a finding."""
    return {"required": required, "offered": offered, "limit": limit, "margin": margin}


def not_required(aspect: Aspect, reason: Fact) -> Finding:
    """Nothing is required here, so nothing was checked: shown, but the grade stays."""
    return Finding(aspect, None, (reason,), is_unchecked=True)


def not_recorded(aspect: Aspect, reason: Fact, *, required: Figure = None, offered: Figure = None) -> Finding:
    """The record cannot answer what is required: a person has to look, so it is for review."""
    figures = compared(required, offered)
    return Finding(aspect, Outcome.REVIEW, (reason,), **figures, is_unchecked=True)


@dataclass(frozen=True, kw_only=True)
class Consequences:
    """What changes on the drive when the candidate goes on; `None` where it cannot be worked out."""

    ratio_change_percent: float | None = None
    driven_speed_rpm: float | None = None
    chain_links: int | None = None
    centre_shift_mm: float | None = None
    rating_utilisation: float | None = None
    chain_line_shift_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """One candidate for one requirement, with every finding."""

    findings: tuple[Finding, ...]
    consequences: Consequences = field(default_factory=Consequences)
    cautions: tuple[Fact, ...] = ()

    @cached_property
    def outcome(self) -> Outcome:
        outcomes = [finding.outcome for finding in self.findings if finding.outcome is not None]
        return max(outcomes, key=OUTCOME_RANK.__getitem__, default=Outcome.REVIEW)

    @cached_property
    def grade(self) -> Grade:
        return GRADE_OF_OUTCOME[self.outcome]

    @cached_property
    def checks(self) -> tuple[Finding, ...]:
        """One finding per aspect in a fitter's order: the worst, with the facts of the others of that aspect added."""
        checked = [finding for finding in self.findings if finding.outcome is not None]
        by_aspect = ([finding for finding in checked if finding.aspect is aspect] for aspect in Aspect)
        return tuple(_joined(findings) for findings in by_aspect if findings)

    @cached_property
    def work(self) -> tuple[WorkStep, ...]:
        """Every step once, in the order in which it is done; none where the candidate is unfit."""
        if self.grade is Grade.UNFIT:
            return ()
        steps = [step for finding in self.findings for step in finding.work]
        once = list(dict.fromkeys(steps))
        return tuple(sorted(once, key=lambda step: list(Operation).index(step.operation)))

    @cached_property
    def work_minutes(self) -> int | None:
        """Minutes of all steps together; `None` when one of them has no time."""
        minutes = [step.minutes for step in self.work]
        return None if any(m is None for m in minutes) else sum(m for m in minutes if m is not None)

    @cached_property
    def work_basis(self) -> TimeBasis | None:
        """An estimate as soon as one step is; `None` where there is no time."""
        if not self.work or self.work_minutes is None:
            return None
        return "estimate" if any(step.basis == "estimate" for step in self.work) else "recorded"

    @cached_property
    def unchecked(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.is_unchecked)

    @cached_property
    def deciding(self) -> tuple[Finding, ...]:
        """The findings that set the grade."""
        return tuple(finding for finding in self.checks if finding.outcome is self.outcome)


def worst_of(findings: Iterable[Finding], aspect: Aspect) -> Finding | None:
    """The first of the worst findings of an aspect; None where nothing was checked."""
    checked = [found for found in findings if found.aspect is aspect and found.outcome is not None]
    return max(checked, key=lambda found: OUTCOME_RANK[found.outcome or Outcome.OK], default=None)


def _joined(findings: list[Finding]) -> Finding:
    worst_first = sorted(findings, key=lambda f: -OUTCOME_RANK[f.outcome or Outcome.OK])
    worst = worst_first[0]
    if len(findings) == 1:
        return worst
    shown = [f for f in worst_first if worst.outcome is not Outcome.NO or f.outcome is Outcome.NO]
    return replace(
        worst,
        facts=tuple(dict.fromkeys(one for f in shown for one in f.facts)),
        sources=tuple(dict.fromkeys(source for f in shown for source in f.sources)),
        work=tuple(step for f in findings for step in f.work),
        is_unchecked=any(f.is_unchecked for f in findings),
    )

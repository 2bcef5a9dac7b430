"""What is known of an item's specification, as conditions in SQL: what refuses it, leaves it to a person, asks for work."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property

from inventory.catalogue.shortlist import ToothRange
from inventory.interchange.bushing import BushesAtHand
from inventory.interchange.findings import Finding, Verdict, WorkStep, worst_of
from inventory.interchange.mounting import check_mounting
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.table_doubts import settle, table_doubts
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, BoreType, Outcome
from inventory.plumbing.joint_statement import Parameters
from inventory.standards.bushes import bushes

MARGIN_MM = 1e-5
ROUND = "('plain', 'finished', 'split')"
BUSHED = "('tapered', 'qd')"
BUSH_SIZES = tuple(sorted({bush.size.upper() for bush in bushes()}))
JudgeOne = Callable[[Sprocket], Verdict]


@dataclass
class BoundConditions:
    """Conditions on the specification `s`; each of `refusals` is of another aspect."""

    required: Requirement
    practice: Practice
    judge: JudgeOne
    teeth: ToothRange
    parameters: Parameters
    bushes: BushesAtHand | None = None
    refusals: list[str] = field(default_factory=list)
    reviews: list[str] = field(default_factory=list)
    works: list[str] = field(default_factory=list)
    minutes: list[tuple[str, int]] = field(default_factory=list)

    def takes(self, condition: str, steps: Iterable[WorkStep]) -> None:
        minutes = sum(step.minutes or 0 for step in dict.fromkeys(steps))
        if minutes:
            self.minutes.append((condition, minutes))

    @cached_property
    def same_mounting(self) -> str:
        """At least all that is mounted as the replaced part is, which fits whatever was measured at the shaft."""
        replaced = self.required.interface
        if replaced is None or replaced.bore_type is None:
            return "1 = 0"
        same = [f"s.bore_type = {self.parameters.put(str(replaced.bore_type))}"]
        if replaced.bore_mm is not None:
            same.append(f"s.bore_mm = {self.parameters.put(replaced.bore_mm)}")
        if replaced.bush_size:
            same.append(f"s.bush_size = {self.parameters.put(replaced.bush_size)}")
        return " AND ".join(same)

    def of_bush_size(self, sizes: Iterable[str]) -> str:
        return f"(s.bore_type IN {BUSHED} AND UPPER(s.bush_size) IN {self.parameters.put_all(sizes)})"

    def mounting_of(self, bush_size: str) -> tuple[Finding, ...]:
        """What the core finds of a hub for this bush, whatever lies on the shelves."""
        given = self.required, Sprocket(bore_type=BoreType.TAPERED, bush_size=bush_size)
        return settle(lambda one: check_mounting(*one, self.practice), given, table_doubts(*given))

    def and_not_same(self, condition: str) -> str:
        return f"({condition} AND NOT ({self.same_mounting}))"


def any_of(conditions: Iterable[str]) -> str:
    return " OR ".join(conditions)


def outcome_of(findings: Iterable[Finding], aspect: Aspect) -> Outcome | None:
    """The worst of an aspect."""
    worst = worst_of(findings, aspect)
    return None if worst is None else worst.outcome

"""What a verdict is made of: requirement, candidate, findings. Lengths in mm, plain floats, `None` where not known."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import Any

from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import (
    GRADE_OF_OUTCOME,
    OUTCOME_RANK,
    Aspect,
    BoreType,
    Environment,
    Grade,
    HubStyle,
    KeyStandard,
    Material,
    Operation,
    Outcome,
    PositionRole,
    RoleKind,
    ShaftKind,
)
from inventory.number_checks import positive
from inventory.standards.chains import Chain
from inventory.standards.tooth_counts import counted_teeth, strand_count

Figure = str | float | int | bool | None
JUDGEMENT = fact("judgement")


def _refuse_bad_numbers(value: object) -> None:
    """A size that is not a finite positive number never enters the core."""
    for spec in fields(value):  # type: ignore[arg-type]
        size = getattr(value, spec.name)
        if spec.name.endswith("_mm") and size is not None:
            positive(spec.name, size)


def _refuse_bad_counts(teeth: int | None, strands: int | None) -> None:
    if teeth is not None:
        counted_teeth("teeth", teeth)
    if strands is not None:
        strand_count("strands", strands)


@dataclass(frozen=True, kw_only=True)
class Engagement:
    """The dimensions by which a chain and a rim fit, of a designated chain or of one outside any standard."""

    pitch_mm: float
    roller_diameter_mm: float
    inner_width_mm: float
    transverse_pitch_mm: float | None = None
    designation: str | None = None
    is_double_pitch: bool = False
    has_large_rollers: bool = False
    unseen_fields: frozenset[str] = frozenset()
    source: str | None = None
    """None where the dimensions stand in the record alone."""

    def __post_init__(self) -> None:
        _refuse_bad_numbers(self)

    @classmethod
    def of(cls, chain: Chain) -> "Engagement":
        """Of a designated chain; its dimensions that were never seen in a source are named."""
        return cls(
            pitch_mm=chain.pitch_mm,
            roller_diameter_mm=chain.roller_diameter_mm,
            inner_width_mm=chain.inner_width_mm,
            transverse_pitch_mm=chain.transverse_pitch_mm,
            designation=chain.designation,
            is_double_pitch=chain.is_double_pitch,
            has_large_rollers=chain.has_large_rollers,
            unseen_fields=frozenset(chain.from_memory_fields),
            source=f"{chain.designation}: {chain.source}",
        )

    @property
    def name(self) -> str:
        return self.designation or f"{self.pitch_mm:g} × {self.inner_width_mm:g} mm"


@dataclass(frozen=True, kw_only=True)
class Shaft:
    """What a position offers to a sprocket."""

    kind: ShaftKind
    diameter_mm: float | None = None
    key_width_mm: float | None = None
    key_height_mm: float | None = None
    keyway_depth_mm: float | None = None
    key_standard: KeyStandard | None = None
    across_flats_mm: float | None = None
    bush_size: str | None = None

    def __post_init__(self) -> None:
        _refuse_bad_numbers(self)


@dataclass(frozen=True, kw_only=True)
class Envelope:
    """The room that guard, shaft and neighbours leave; `is_measured` is False where it was copied from the old part."""

    outside_diameter_mm: float | None = None
    hub_diameter_mm: float | None = None
    length_through_bore_mm: float | None = None
    is_measured: bool = True

    def __post_init__(self) -> None:
        _refuse_bad_numbers(self)


@dataclass(frozen=True, kw_only=True)
class Sprocket:
    """A sprocket by its generic attributes."""

    chain: Engagement | None = None
    teeth: int | None = None
    strands: int | None = None
    role_kind: RoleKind | None = None
    hub_style: HubStyle | None = None
    bore_type: BoreType | None = None
    bore_mm: float | None = None
    max_bore_mm: float | None = None
    keyway_width_mm: float | None = None
    keyway_depth_mm: float | None = None
    key_standard: KeyStandard | None = None
    set_screws: int | None = None
    bush_size: str | None = None
    hex_across_flats_mm: float | None = None
    hub_diameter_mm: float | None = None
    hub_diameter_2_mm: float | None = None
    length_through_bore_mm: float | None = None
    outside_diameter_mm: float | None = None
    tooth_width_mm: float | None = None
    material: Material | None = None
    material_grade: str | None = None
    hardened_teeth: bool | None = None
    food_contact: bool | None = None
    non_sparking: bool | None = None
    single_cut: bool | None = None
    mass_kg: float | None = None

    def __post_init__(self) -> None:
        _refuse_bad_numbers(self)
        _refuse_bad_counts(self.teeth, self.strands)

    @property
    def widest_hub_mm(self) -> float | None:
        known = [size for size in (self.hub_diameter_mm, self.hub_diameter_2_mm) if size is not None]
        return max(known) if known else None


@dataclass(frozen=True, kw_only=True)
class Requirement:
    """What a position requires. `interface` is the part to replace, where only that is known: then equal mounting is enough."""

    chain: Engagement | None = None
    strands: int | None = None
    teeth: int | None = None
    role: PositionRole | None = None
    minimum_teeth: int | None = None
    single_cut: bool | None = None
    shaft: Shaft | None = None
    interface: Sprocket | None = None
    hub_style: HubStyle | None = None
    material: Material | None = None
    material_grade: str | None = None
    hardened_teeth: bool | None = None
    environment: frozenset[Environment] = frozenset()
    envelope: Envelope = field(default_factory=Envelope)
    food_contact_required: bool = False
    non_sparking_required: bool = False
    is_shock_loaded: bool | None = None

    def __post_init__(self) -> None:
        _refuse_bad_counts(self.teeth, self.strands)
        if self.minimum_teeth is not None:
            _refuse_bad_counts(self.minimum_teeth, None)

    @property
    def is_idler(self) -> bool:
        return self.role is PositionRole.IDLER


@dataclass(frozen=True, kw_only=True)
class WorkStep:
    """One step of work; minutes are `None` where the plant has no time for it."""

    operation: Operation
    detail: Fact
    minutes: int | None = None


@dataclass(frozen=True, kw_only=True)
class Finding:
    """What one check found: the first fact is the reason. `outcome` is None where nothing was required and nothing checked."""

    aspect: Aspect
    outcome: Outcome | None
    facts: tuple[Fact, ...]
    required: Figure = None
    offered: Figure = None
    limit: Figure = None
    margin: float | None = None
    sources: tuple[Fact, ...] = (JUDGEMENT,)
    work: tuple[WorkStep, ...] = ()
    is_unchecked: bool = False

    @property
    def code(self) -> str:
        return self.facts[0].code

    @property
    def values(self) -> Mapping[str, Any]:
        return self.facts[0].values

    @property
    def further(self) -> tuple[Fact, ...]:
        return self.facts[1:]


def not_required(aspect: Aspect, reason: Fact) -> Finding:
    """Nothing is required here, so nothing was checked: shown, but the grade stays."""
    return Finding(aspect=aspect, outcome=None, facts=(reason,), is_unchecked=True)


def not_recorded(aspect: Aspect, reason: Fact, *, required: Figure = None, offered: Figure = None) -> Finding:
    """The record cannot answer what is required: a person has to look, so it is for review."""
    return Finding(
        aspect=aspect,
        outcome=Outcome.REVIEW,
        facts=(reason,),
        required=required,
        offered=offered,
        is_unchecked=True,
    )


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
        return tuple(
            _joined([f for f in self.findings if f.aspect is aspect and f.outcome is not None])
            for aspect in Aspect
            if any(f.aspect is aspect and f.outcome is not None for f in self.findings)
        )

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
    def unchecked(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.is_unchecked)

    @cached_property
    def deciding(self) -> tuple[Finding, ...]:
        """The findings that set the grade."""
        return tuple(finding for finding in self.checks if finding.outcome is self.outcome)


def _joined(findings: list[Finding]) -> Finding:
    worst_first = sorted(findings, key=lambda f: -OUTCOME_RANK[f.outcome or Outcome.OK])
    worst = worst_first[0]
    if len(findings) == 1:
        return worst
    shown = [f for f in worst_first if worst.outcome is not Outcome.NO or f.outcome is Outcome.NO]
    return Finding(
        aspect=worst.aspect,
        outcome=worst.outcome,
        facts=tuple(dict.fromkeys(one for f in shown for one in f.facts)),
        required=worst.required,
        offered=worst.offered,
        limit=worst.limit,
        margin=worst.margin,
        sources=tuple(dict.fromkeys(source for f in shown for source in f.sources)),
        work=tuple(step for f in findings for step in f.work),
        is_unchecked=any(f.is_unchecked for f in findings),
    )

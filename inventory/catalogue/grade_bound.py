"""How good an item could be for a requirement, as SQL over its specification: what refuses it, what leaves it to a person,
what work it needs at least.

Whatever has a name (a chain, a count, a material, a style, a bush) is put to the core, one by one. Sizes are compared as the core
compares them, with a margin where rounding could decide. It is a bound and no verdict: no item is better than it says.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property

from inventory.catalogue.shortlist import ToothRange
from inventory.interchange.bushing import BushesAtHand
from inventory.interchange.engagement import check_chain
from inventory.interchange.findings import Finding, Verdict, WorkStep, worst_of
from inventory.interchange.hub import check_hub
from inventory.interchange.key import keyseat_for, least_wall_mm, wall_over_keyseat_mm, wall_turns_on
from inventory.interchange.material import check_material
from inventory.interchange.mounting import LOOKS_LIKE_A_FIT_MM
from inventory.interchange.requirement import Engagement, Requirement, Shaft, Sprocket
from inventory.interchange.table_doubts import settle, table_doubts
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import (
    Aspect,
    BoreType,
    Environment,
    HubStyle,
    Material,
    Operation,
    Outcome,
    ShaftKind,
)
from inventory.models.engagement import DESIGNATION_TOLERANCE_MM
from inventory.plumbing.joint_statement import Parameters
from inventory.standards.chains import chains

MOST_COUNTS = 25
"""Where a drive takes nearly any count, the others are bounded by the rest of what is known."""
MARGIN_MM = 1e-5
HUB_STEP_MM = 0.01
GRADE_STEP, GUESS_STEP = 1000, 100
UNFIT_CLASS = 3 * GRADE_STEP
JudgeOne = Callable[[Sprocket], Verdict]


@dataclass
class GradeBound:
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

    def __post_init__(self) -> None:
        self._of_rows()
        self._of_teeth()
        self._of_chain()
        self._of_material()
        self._of_hub()
        self._of_declarations()
        self._of_mounting()

    @property
    def class_sql(self) -> str:
        """Grade, then whether it is a guess, then how many aspects refuse it: the first part of the order, as one number."""
        refused = " + ".join(f"CASE WHEN {one} THEN 1 ELSE 0 END" for one in self.refusals) or "0"
        guess = (
            "CASE WHEN s.teeth IS NULL OR s.chain_designation = '' AND (s.pitch_mm IS NULL OR "
            f"s.roller_diameter_mm IS NULL OR s.inner_width_mm IS NULL) THEN {GUESS_STEP} ELSE 0 END"
        )
        usable = "0"
        if self.works:
            usable = f"CASE WHEN {_any_of(self.works)} THEN {GRADE_STEP} ELSE 0 END"
        if self.reviews:
            usable = f"CASE WHEN {_any_of(self.reviews)} THEN {2 * GRADE_STEP} ELSE {usable} END"
        found = f"CASE WHEN {_any_of(self.refusals)} THEN {UNFIT_CLASS} + {refused} ELSE {usable} END"
        return f"{found if self.refusals else usable} + {guess}"

    @property
    def minutes_sql(self) -> str:
        return (
            " + ".join(f"CASE WHEN {when} THEN {minutes} ELSE 0 END" for when, minutes in self.minutes) or "0"
        )

    def _of_rows(self) -> None:
        strands = self.required.strands
        if strands is None:
            return
        own = self.parameters.put(strands)
        self.refusals.append(f"s.strands < {own}")
        self.reviews.append(f"(s.strands IS NULL OR s.strands > {own})")

    def _of_teeth(self) -> None:
        """At each count by the core, with everything else of the item unknown."""
        required, chain = self.required, self.required.chain
        if self.required.teeth is not None:
            self.reviews.append("s.teeth IS NULL")
        if self.teeth is None or chain is None or chain.is_double_pitch:
            return
        refused: dict[Aspect, list[int]] = {Aspect.TEETH: [], Aspect.RATING: []}
        review = []
        for count in range(self.teeth[0], min(self.teeth[1], self.teeth[0] + MOST_COUNTS) + 1):
            findings = self.judge(Sprocket(chain=chain, teeth=count, strands=required.strands)).findings
            for aspect, counts in refused.items():
                if _outcome(findings, aspect) is Outcome.NO:
                    counts.append(count)
            if any(_outcome(findings, one) is Outcome.REVIEW for one in (Aspect.TEETH, Aspect.RATING)):
                review.append(count)
            steps = [step for one in findings if one.aspect in COUNT_ASPECTS for step in one.work]
            if steps:
                self.works.append(f"s.teeth = {self.parameters.put(count)}")
                self.takes(f"s.teeth = {self.parameters.put(count)}", steps)
            if any(_is_settled_review(one) and one.aspect is Aspect.DUTY for one in findings):
                review.append(count)
        for counts in refused.values():
            if counts:
                self.refusals.append(f"s.teeth IN {self.parameters.put_all(counts)}")
        if review:
            self.reviews.append(f"s.teeth IN {self.parameters.put_all(set(review))}")

    def _of_chain(self) -> None:
        """At each chain of the tables that the pitch allows; a recorded width of tooth may say something else."""
        chain, strands = self.required.chain, self.required.strands
        if chain is None:
            return
        unnamed = "s.chain_designation = '' AND"
        self.reviews.append(
            f"({unnamed} (s.pitch_mm IS NULL OR s.roller_diameter_mm IS NULL OR s.inner_width_mm IS NULL))"
        )
        same = self.practice.thresholds.roller_same_share
        apart_mm = chain.roller_diameter_mm * same / (1 - same) + float(DESIGNATION_TOLERANCE_MM)
        least, most = (self.parameters.put(chain.roller_diameter_mm + one) for one in (-apart_mm, apart_mm))
        self.reviews.append(f"(s.roller_diameter_mm < {least} OR s.roller_diameter_mm > {most})")
        if chain.is_double_pitch:
            return
        names: dict[Outcome, list[str]] = {Outcome.NO: [], Outcome.REVIEW: []}
        for other in chains():
            if abs(other.pitch_mm - chain.pitch_mm) <= self.practice.thresholds.pitch_tolerance_mm:
                offered = Sprocket(chain=Engagement.of(other), strands=strands)
                outcome = self._settled(check_chain, offered, Aspect.CHAIN)
                if outcome in names:
                    names[outcome].append(other.designation)
        rows = "" if strands is None else f" AND s.strands = {self.parameters.put(strands)}"
        for outcome, conditions in ((Outcome.NO, self.refusals), (Outcome.REVIEW, self.reviews)):
            if names[outcome]:
                named = f"s.chain_designation IN {self.parameters.put_all(names[outcome])}"
                conditions.append(f"({named} AND s.tooth_width_mm IS NULL{rows})")

    def _settled(
        self,
        check: Callable[[Requirement, Sprocket, Practice], tuple[Finding, ...]],
        offered: Sprocket,
        aspect: Aspect,
    ) -> Outcome | None:
        def find(given: tuple[Requirement, Sprocket]) -> tuple[Finding, ...]:
            return check(*given, self.practice)

        return _outcome(settle(find, (self.required, offered), table_doubts(self.required, offered)), aspect)

    def _of_material(self) -> None:
        found: dict[Outcome, list[str]] = {Outcome.NO: [], Outcome.REVIEW: []}
        for word in ("", *Material):
            grade = (self.required.material_grade or "316") if word == Material.STAINLESS_STEEL else None
            offered = Sprocket(material=Material(word) if word else None, material_grade=grade)
            outcome = _outcome(check_material(self.required, offered, self.practice), Aspect.MATERIAL)
            if outcome in found:
                found[outcome].append(str(word))
        for outcome, conditions in ((Outcome.NO, self.refusals), (Outcome.REVIEW, self.reviews)):
            if found[outcome]:
                conditions.append(f"s.material IN {self.parameters.put_all(found[outcome])}")
        is_abrasive = (
            self.required.hardened_teeth is None and Environment.ABRASIVE in self.required.environment
        )
        if self.required.hardened_teeth or is_abrasive:
            self.reviews.append("(s.hardened_teeth IS NULL OR NOT s.hardened_teeth)")

    def _of_hub(self) -> None:
        """Style against style, and what is longer or wider than the room."""
        envelope, limits = self.required.envelope, self.practice.thresholds
        replaced = self.required.interface
        if self.required.hub_style is not None:
            for style in (one for one in HubStyle if one is not HubStyle.FLANGED):
                kind = replaced.bore_type if replaced else None
                found = check_hub(self.required, Sprocket(hub_style=style, bore_type=kind), self.practice)[0]
                self._add(found, f"s.hub_style = {self.parameters.put(str(style))}")
            self.reviews.append("s.hub_style = ''")
        if envelope.length_through_bore_mm is not None:
            room = self.parameters.put(envelope.length_through_bore_mm + limits.room_tolerance_mm + MARGIN_MM)
            self.reviews.append("s.length_through_bore_mm IS NULL")
            self.reviews.append(
                f"(s.length_through_bore_mm > {room} AND (s.hub_style NOT IN ('B', 'C') OR s.bore_type IN {BUSHED}))"
            )
            self.works.append(f"s.length_through_bore_mm > {room}")
        if envelope.hub_diameter_mm is not None:
            room = self.parameters.put(envelope.hub_diameter_mm + limits.room_tolerance_mm + MARGIN_MM)
            wide = f"(s.hub_diameter_mm > {room} OR s.hub_diameter_2_mm > {room})"
            self.works.append(f"({wide} AND s.hub_style <> 'A')")
            self.reviews.append(
                "(s.hub_diameter_mm IS NULL AND s.hub_diameter_2_mm IS NULL AND s.hub_style <> 'A')"
            )

    def _add(self, found: Finding, condition: str) -> None:
        """As the core found it."""
        if found.outcome is Outcome.NO:
            self.refusals.append(condition)
        elif found.outcome is Outcome.REVIEW:
            self.reviews.append(condition)
        elif found.outcome is Outcome.WORK:
            self.works.append(condition)
        if found.outcome is not Outcome.NO:
            self.takes(condition, found.work)

    def takes(self, condition: str, steps: Iterable[WorkStep]) -> None:
        minutes = sum(step.minutes or 0 for step in dict.fromkeys(steps))
        if minutes:
            self.minutes.append((condition, minutes))

    def _of_declarations(self) -> None:
        wanted, refused = self.required.material, []
        for column, is_required in (
            ("food_contact", self.required.food_contact_required),
            ("non_sparking", self.required.non_sparking_required),
        ):
            if is_required:
                self.reviews.append(f"s.{column} IS NULL")
                refused.append(f"NOT s.{column}")
        if Environment.EXPLOSIVE in self.required.environment and wanted is not None:
            refused.append(f"s.material NOT IN ('', {self.parameters.put(str(wanted))})")
        if refused:
            self.refusals.append(_any_of(refused))

    def _of_mounting(self) -> None:
        self.reviews.append("s.bore_type = ''")
        shaft = self.required.shaft
        if shaft is None:
            return
        mounting = MountingBound(self, shaft)
        refused = mounting.refused()
        if refused:
            self.refusals.append(f"(({_any_of(refused)}) AND NOT ({self._same_mounting}))")
        mounting.bound_rest()

    @cached_property
    def _same_mounting(self) -> str:
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

    def and_not_same(self, condition: str) -> str:
        return f"({condition} AND NOT ({self._same_mounting}))"


COUNT_ASPECTS = (Aspect.TEETH, Aspect.CHAIN_WEAR)
ROUND = "('plain', 'finished', 'split')"
BUSHED = "('tapered', 'qd')"


def _any_of(conditions: Iterable[str]) -> str:
    return " OR ".join(conditions)


def _outcome(findings: Iterable[Finding], aspect: Aspect) -> Outcome | None:
    """The worst of an aspect."""
    worst = worst_of(findings, aspect)
    return None if worst is None else worst.outcome


def _is_settled_review(found: Finding) -> bool:
    return found.outcome is Outcome.REVIEW and not found.is_unchecked


@dataclass(frozen=True)
class MountingBound:
    """What the bore does on a shaft of known kind and size."""

    bound: GradeBound
    shaft: Shaft

    @property
    def _is_round(self) -> bool:
        return self.shaft.kind in (ShaftKind.KEYED, ShaftKind.PLAIN) and self.shaft.diameter_mm is not None

    @property
    def _is_keyed(self) -> bool:
        return self.shaft.kind is ShaftKind.KEYED

    def _size(self, size_mm: float) -> str:
        return self.bound.parameters.put(size_mm)

    @cached_property
    def _same(self) -> str:
        size_mm = self.shaft.diameter_mm or 0.0
        near_mm = self.bound.practice.thresholds.bore_tolerance_mm - MARGIN_MM
        return f"s.bore_mm BETWEEN {self._size(size_mm - near_mm)} AND {self._size(size_mm + near_mm)}"

    @cached_property
    def _smaller(self) -> str:
        """A pilot bore not above the shaft, or a finished one that nobody takes for it: to be bored."""
        size_mm = self.shaft.diameter_mm or 0.0
        look_alike = self._size(size_mm - LOOKS_LIKE_A_FIT_MM)
        return (
            f"(s.bore_type = 'plain' AND s.bore_mm <= {self._size(size_mm)} OR "
            f"s.bore_type = 'finished' AND s.bore_mm < {look_alike})"
        )

    @property
    def _is_plate(self) -> str:
        is_plate = self._is_keyed and self.bound.required.hub_style is not HubStyle.A
        return "s.hub_style = 'A'" if is_plate else "1 = 0"

    def refused(self) -> list[str]:
        kind = self.shaft.kind
        if kind is ShaftKind.SPLINE:
            return ["s.bore_type <> ''"]
        if kind is ShaftKind.HEX:
            return ["s.bore_type NOT IN ('', 'hex')", *self._other_hex()]
        if kind is ShaftKind.PIN or self.shaft.diameter_mm is None:
            return ["s.bore_type = 'hex'"]
        size_mm = self.shaft.diameter_mm
        too_large = self._size(size_mm + LOOKS_LIKE_A_FIT_MM)
        too_far = self._size(size_mm - self.bound.practice.thresholds.bore_tolerance_mm - MARGIN_MM)
        is_free = self.bound.required.is_idler and not self._is_keyed
        return [
            "s.bore_type = 'hex'" if is_free else "s.bore_type IN ('hex', 'bearing')",
            f"s.bore_type IN {ROUND} AND s.bore_mm > {too_large}",
            f"{self._smaller} AND s.max_bore_mm < {too_far} AND NOT ({self._is_plate})",
            *self._refused_bushes(),
        ]

    def _other_hex(self) -> list[str]:
        size_mm = self.shaft.across_flats_mm
        if size_mm is None:
            return []
        least, most = self._size(size_mm - LOOKS_LIKE_A_FIT_MM), self._size(size_mm + LOOKS_LIKE_A_FIT_MM)
        return [f"s.hex_across_flats_mm < {least} OR s.hex_across_flats_mm > {most}"]

    @cached_property
    def _bushes(self) -> dict[str, tuple[Finding, ...]]:
        """What the core finds of a hub for each size of bush that lies on a shelf, and for the one on the shaft."""
        bound = self.bound
        if bound.bushes is None:
            return {}
        sizes = {bush.size.upper() for bush in bound.bushes.bushes if bush.available > 0}
        sizes |= {self.shaft.bush_size.upper()} if self.shaft.bush_size else set()
        # Fewer teeth ask for less torque, so the least count is judged where a drive takes several.
        count = bound.teeth[0] if bound.teeth else bound.required.teeth
        base = Sprocket(chain=bound.required.chain, strands=bound.required.strands, teeth=count)
        return {
            size: bound.judge(replace(base, bore_type=BoreType.TAPERED, bush_size=size)).findings
            for size in sorted(sizes)
        }

    def _refused_bushes(self) -> list[str]:
        refused = [
            size for size, found in self._bushes.items() if _outcome(found, Aspect.MOUNTING) is Outcome.NO
        ]
        found = [self._of_size(refused)] if refused else []
        if self.bound.bushes is not None and not self.shaft.bush_size:
            others = [*self._bushes, ""]
            found.append(f"NOT {self._of_size(others)} AND s.bore_type IN {BUSHED}")
        return found

    def _of_size(self, sizes: Iterable[str]) -> str:
        return f"(s.bore_type IN {BUSHED} AND UPPER(s.bush_size) IN {self.bound.parameters.put_all(sizes)})"

    def bound_rest(self) -> None:
        if not self._is_round:
            return
        self._bound_bushes()
        self._bound_opened()
        self._bound_same()
        if self.shaft.bush_size:
            self.bound.reviews.append(self.bound.and_not_same(f"({self._smaller} OR {self._fits})"))
        self.bound.reviews.append(f"(s.bore_type IN {ROUND} AND s.bore_mm IS NULL)")

    def _bound_bushes(self) -> None:
        bound = self.bound
        keys = [size for size, found in self._bushes.items() if _outcome(found, Aspect.KEY) is Outcome.NO]
        if keys:
            bound.refusals.append(bound.and_not_same(self._of_size(keys)))
        bound.reviews.append(f"(s.bore_type IN {BUSHED} AND s.bush_size = '')")
        for size, found in self._bushes.items():
            mounting = [one for one in found if one.aspect in (Aspect.MOUNTING, Aspect.KEY)]
            condition = bound.and_not_same(self._of_size([size]))
            if any(_outcome(mounting, one) is Outcome.REVIEW for one in (Aspect.MOUNTING, Aspect.KEY)):
                bound.reviews.append(condition)
            steps = [step for one in mounting for step in one.work]
            if steps:
                bound.works.append(condition)
                bound.takes(condition, steps)

    def _bound_opened(self) -> None:
        bound, smaller = self.bound, self._smaller
        least, sure = self._least_hub_mm()
        small = self._size(least - 2 * HUB_STEP_MM)
        doubtful = [
            self._is_plate,
            f"s.hub_diameter_mm < {small} OR s.hub_diameter_2_mm < {small}",
            "s.max_bore_mm IS NULL AND s.hub_diameter_mm IS NULL AND s.hub_diameter_2_mm IS NULL",
        ]
        keyseat = keyseat_for(self.shaft) if self._is_keyed else None
        if keyseat is not None and (keyseat.width_mm is None or keyseat.hub_depth_mm is None):
            doubtful.append("1 = 1")
        bound.reviews.append(bound.and_not_same(f"({smaller} AND ({_any_of(doubtful)}))"))
        bound.reviews.append(
            bound.and_not_same(f"(s.bore_type = 'split' AND s.bore_mm < {self._look_alike})")
        )
        if self._is_keyed:
            bound.works.append(bound.and_not_same(smaller))
        large = self._size(sure + 2 * HUB_STEP_MM)
        opened = (
            f"{smaller} AND NOT ({self._is_plate}) AND (s.max_bore_mm IS NULL OR s.max_bore_mm >= {self._own}) AND "
            f"(s.hub_diameter_mm IS NULL OR s.hub_diameter_mm >= {large}) AND "
            f"(s.hub_diameter_2_mm IS NULL OR s.hub_diameter_2_mm >= {large}) AND "
            "(s.max_bore_mm IS NOT NULL OR s.hub_diameter_mm IS NOT NULL OR s.hub_diameter_2_mm IS NOT NULL)"
        )
        near = self.bound.practice.thresholds.bore_tolerance_mm + MARGIN_MM
        bored = f"{opened} AND s.bore_mm < {self._size((self.shaft.diameter_mm or 0.0) - near)}"
        self._step(Operation.BORE, bored)
        bound.works.append(bound.and_not_same(f"({bored})"))
        if self._is_keyed:
            self._step(Operation.CUT_KEYSEAT, opened)
        self._step(
            Operation.DRILL_SET_SCREWS,
            f"{opened} AND s.bore_type = 'plain' AND (s.set_screws IS NULL OR s.set_screws = 0)",
        )

    @cached_property
    def _own(self) -> str:
        return self._size(self.shaft.diameter_mm or 0.0)

    @cached_property
    def _look_alike(self) -> str:
        return self._size((self.shaft.diameter_mm or 0.0) - LOOKS_LIKE_A_FIT_MM)

    @property
    def _fits(self) -> str:
        return f"(s.bore_type IN ('finished', 'split') AND {self._same})"

    def _step(self, operation: Operation, condition: str) -> None:
        minutes = self.bound.practice.times.minutes.get(operation)
        if minutes:
            self.bound.minutes.append((self.bound.and_not_same(f"({condition})"), minutes))

    def _least_hub_mm(self) -> tuple[float, float]:
        """The least hub whose wall nobody doubts, and the least that is bored at all."""
        size_mm, practice = self.shaft.diameter_mm or 0.0, self.bound.practice

        def is_thick(hub_mm: float) -> bool:
            wall_mm = wall_over_keyseat_mm(hub_mm, size_mm, self.shaft)
            return wall_mm >= least_wall_mm(size_mm, self.shaft, practice)

        def is_sure(hub_mm: float) -> bool:
            wall_mm = wall_over_keyseat_mm(hub_mm, size_mm, self.shaft)
            return is_thick(hub_mm) and not wall_turns_on(wall_mm, size_mm, self.shaft, practice)

        return _least(is_sure, size_mm), _least(is_thick, size_mm)

    def _bound_same(self) -> None:
        """A bore of the shaft's size: the key decides, or what holds it without one."""
        bound, same = self.bound, self._fits
        found = [self._is_plate]
        if self._is_keyed:
            width_mm = keyseat_for(self.shaft).width_mm
            if width_mm is None:
                found.append("1 = 1")
            else:
                near_mm = bound.practice.thresholds.bore_tolerance_mm + MARGIN_MM
                found.append(
                    f"s.keyway_width_mm IS NULL OR s.keyway_width_mm > {self._size(width_mm + near_mm)}"
                )
                narrow = f"{same} AND s.keyway_width_mm < {self._size(width_mm - near_mm)}"
                bound.works.append(bound.and_not_same(f"({narrow})"))
                self._step(Operation.CUT_KEYSEAT, narrow)
        else:
            found.append("s.keyway_width_mm IS NOT NULL OR s.set_screws IS NULL OR s.set_screws = 0")
        bound.reviews.append(bound.and_not_same(f"({same} AND ({_any_of(found)}))"))


def _least(holds: Callable[[float], bool], least_mm: float) -> float:
    """The least hub for which it holds, to a hundredth; it holds for every larger one."""
    low, high = 0, round((4 * least_mm + 100) / HUB_STEP_MM)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(least_mm + middle * HUB_STEP_MM) else (middle, high)
    return least_mm + high * HUB_STEP_MM

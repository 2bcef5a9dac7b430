"""What the bore of a hub does on a shaft of known kind and size, as conditions of the bound."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cache, cached_property
from math import sqrt

from inventory.catalogue.bound_conditions import (
    BUSH_SIZES,
    BUSHED,
    MARGIN_MM,
    ROUND,
    BoundConditions,
    any_of,
    outcome_of,
)
from inventory.facts import fact
from inventory.interchange.findings import Finding, WorkStep
from inventory.interchange.key import keyseat_for, least_wall_mm, wall_over_keyseat_mm, wall_turns_on
from inventory.interchange.mounting import LOOKS_LIKE_A_FIT_MM
from inventory.interchange.requirement import Shaft, Sprocket
from inventory.interchange.vocabulary import Aspect, BoreType, HubStyle, Operation, Outcome, ShaftKind
from inventory.standards.bushes import UnknownBush, bush_substitution, bushes

HUB_STEP_MM = 0.01
ANY_BUSH = fact("fit_bush")
"""In place of the step that names its size: the minutes alone are summed."""
SHORTEST_HUB_MM, LONGEST_HUB_MM, LENGTH_STEPS = 5.0, 320.0, 6


@dataclass(frozen=True)
class MountingBound:
    """What the bore does on a shaft of known kind and size."""

    bound: BoundConditions
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
        look_alike = self._size(size_mm - self._other_size_mm)
        return (
            f"(s.bore_type = 'plain' AND s.bore_mm <= {self._size(size_mm)} OR "
            f"s.bore_type = 'finished' AND s.bore_mm < {look_alike})"
        )

    @property
    def _other_size_mm(self) -> float:
        """A bore so far from the shaft is nearer to another size: a whole millimetre is at most half of one away."""
        uncertainty_mm = self.bound.practice.thresholds.measuring_uncertainty_mm
        return min(LOOKS_LIKE_A_FIT_MM, 0.5 + uncertainty_mm + MARGIN_MM)

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
        too_large = self._size(size_mm + self._other_size_mm)
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
        least, most = self._size(size_mm - self._other_size_mm), self._size(size_mm + self._other_size_mm)
        return [f"s.hex_across_flats_mm < {least} OR s.hex_across_flats_mm > {most}"]

    def _bound_length(self) -> None:
        """The shorter the hub, the harder its key presses: the length up to which that is for review, to a few parts in a hundred."""
        low_mm, high_mm = SHORTEST_HUB_MM, LONGEST_HUB_MM
        if not self._is_keyed or not self._is_pressed(low_mm) or self._is_pressed(high_mm):
            return
        for _ in range(LENGTH_STEPS):
            middle_mm = sqrt(low_mm * high_mm)
            low_mm, high_mm = (middle_mm, high_mm) if self._is_pressed(middle_mm) else (low_mm, middle_mm)
        self.bound.reviews.append(
            f"(s.bore_type NOT IN {BUSHED} AND s.length_through_bore_mm <= {self._size(low_mm)})"
        )

    def _is_pressed(self, length_mm: float) -> bool:
        """Whether a hub of the very bore is for review at this length."""
        offered = replace(
            self._at_least_torque,
            bore_type=BoreType.FINISHED,
            bore_mm=self.shaft.diameter_mm,
            keyway_width_mm=keyseat_for(self.shaft).width_mm,
            length_through_bore_mm=length_mm,
        )
        return outcome_of(self.bound.judge(offered).findings, Aspect.MOUNTING) is Outcome.REVIEW

    @property
    def _at_least_torque(self) -> Sprocket:
        """Fewer teeth ask for less torque, so the least count is judged where a drive takes several."""
        required = self.bound.required
        count = self.bound.teeth[0] if self.bound.teeth else required.teeth
        return Sprocket(chain=required.chain, strands=required.strands, teeth=count)

    @cached_property
    def _bushes(self) -> dict[str, tuple[Finding, ...]]:
        """What the core finds of a hub for each size of bush that lies on a shelf, and for the one on the shaft.

        For each size of the tables where nobody looked at the shelves.
        """
        bound = self.bound
        if bound.bushes is None:
            return {size: bound.mounting_of(size) for size in BUSH_SIZES}
        sizes = {bush.size.upper() for bush in bound.bushes.bushes if bush.available > 0}
        sizes |= {self.shaft.bush_size.upper()} if self.shaft.bush_size else set()
        return {
            size: bound.judge(
                replace(self._at_least_torque, bore_type=BoreType.TAPERED, bush_size=size)
            ).findings
            for size in sorted(sizes)
        }

    def _refused_bushes(self) -> list[str]:
        refused = [
            size for size, found in self._bushes.items() if outcome_of(found, Aspect.MOUNTING) is Outcome.NO
        ]
        found = [self._of_size(refused)] if refused else []
        if self.bound.bushes is not None and not self.shaft.bush_size:
            others = [*self._bushes, ""]
            found.append(f"NOT {self._of_size(others)} AND s.bore_type IN {BUSHED}")
        elif self.bound.bushes is not None and self.shaft.bush_size:
            found.append(self._of_size(sorted(_other_cones(self.shaft.bush_size) - set(self._bushes))))
        return found

    def _of_size(self, sizes: Iterable[str]) -> str:
        return self.bound.of_bush_size(sizes)

    def bound_rest(self) -> None:
        if not self._is_round:
            return
        self._bound_bushes()
        self._bound_length()
        self._bound_opened()
        self._bound_same()
        if self.shaft.bush_size:
            self.bound.reviews.append(self.bound.and_not_same(f"({self._smaller} OR {self._fits})"))
        self.bound.reviews.append(f"(s.bore_type IN {ROUND} AND s.bore_mm IS NULL)")

    def _bound_bushes(self) -> None:
        bound = self.bound
        keys = [size for size, found in self._bushes.items() if outcome_of(found, Aspect.KEY) is Outcome.NO]
        if keys:
            bound.refusals.append(bound.and_not_same(self._of_size(keys)))
        bound.reviews.append(f"(s.bore_type IN {BUSHED} AND s.bush_size = '')")
        alike: dict[tuple[bool, tuple[WorkStep, ...]], list[str]] = defaultdict(list)
        for size, found in self._bushes.items():
            mounting = [one for one in found if one.aspect in (Aspect.MOUNTING, Aspect.KEY)]
            outcomes = [outcome_of(mounting, one) for one in (Aspect.MOUNTING, Aspect.KEY)]
            steps = tuple(replace(step, detail=ANY_BUSH) for one in mounting for step in one.work)
            alike[Outcome.REVIEW in outcomes, steps].append(size)
        for (is_review, steps), sizes in alike.items():
            condition = bound.and_not_same(self._of_size(sizes))
            if is_review:
                bound.reviews.append(condition)
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
        bound.reviews.append(bound.and_not_same(f"({smaller} AND ({any_of(doubtful)}))"))
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
        return self._size((self.shaft.diameter_mm or 0.0) - self._other_size_mm)

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
        bound.reviews.append(bound.and_not_same(f"({same} AND ({any_of(found)}))"))


def _least(holds: Callable[[float], bool], least_mm: float) -> float:
    """The least hub for which it holds, to a hundredth; it holds for every larger one."""
    low, high = 0, round((4 * least_mm + 100) / HUB_STEP_MM)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(least_mm + middle * HUB_STEP_MM) else (middle, high)
    return least_mm + high * HUB_STEP_MM


@cache
def _other_cones(fitted_size: str) -> frozenset[str]:
    """The sizes whose hubs do not go on the bush that is on the shaft, so that one of their own would have to be at hand."""
    try:
        return frozenset(
            hub.size for hub in bushes() if bush_substitution(fitted_size, hub.size).outcome == "no"
        )
    except UnknownBush:
        return frozenset()

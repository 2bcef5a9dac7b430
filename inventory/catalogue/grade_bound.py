"""How good an item could be for a requirement, as SQL over its specification: what refuses it, what leaves it to a person,
what work it needs at least.

Whatever has a name (a chain, a count, a material, a style, a bush) is put to the core, one by one. Sizes are compared as the core
compares them, with a margin where rounding could decide. It is a bound and no verdict: no item is better than it says.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from math import floor

from inventory.catalogue.bound_conditions import (
    BUSH_SIZES,
    BUSHED,
    MARGIN_MM,
    ROUND,
    BoundConditions,
    any_of,
    outcome_of,
)
from inventory.catalogue.candidates import MOUNTING_STEP
from inventory.catalogue.mounting_bound import MountingBound
from inventory.catalogue.shortlist import has_pitch_near
from inventory.interchange.bushing import is_bushed
from inventory.interchange.engagement import check_chain
from inventory.interchange.findings import Finding, worst_of
from inventory.interchange.hub import check_hub
from inventory.interchange.material import check_material
from inventory.interchange.requirement import Engagement, Requirement, Sprocket
from inventory.interchange.table_doubts import settle, table_doubts
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, BoreType, Environment, HubStyle, Material, Outcome
from inventory.models.engagement import DESIGNATION_TOLERANCE_MM
from inventory.standards.chains import chains

MOST_COUNTS = 25
"""On either side; where a drive takes nearly any count, the others are bounded by the rest of what is known."""
TOO_FAR = ("ratio_beyond_tolerance", "ratio_tolerance_not_recorded", "teeth_differ", "teeth_differ_by_cut")
GRADE_STEP, GUESS_STEP = 1000, 100
UNFIT_CLASS = 3 * GRADE_STEP


def class_of(grade_rank: int, *, is_guess: bool, departures: int) -> int:
    """The first part of the order as one number, as `class_sql` gives it."""
    return grade_rank * GRADE_STEP + is_guess * GUESS_STEP + departures


@dataclass
class GradeBound(BoundConditions):
    """The conditions of every check, and their sum."""

    def __post_init__(self) -> None:
        # The conditions of a group are about the same aspects, and of no other group: so many aspects at least are open.
        self.open = [
            self._found_by(self._of_rows),
            self._found_by(self._of_teeth),
            self._found_by(self._of_chain),
            self._found_by(self._of_material, self._of_declarations),
            self._found_by(self._of_hub),
        ]
        self.mounting = self._found_by(self._of_mounting)

    def _found_by(self, *parts: Callable[[], None]) -> list[str]:
        reviews, works = len(self.reviews), len(self.works)
        for one in parts:
            one()
        return [*self.reviews[reviews:], *self.works[works:]]

    @property
    def class_sql(self) -> str:
        """Grade, then whether it is a guess, then how much refuses it or is open: the first part of the order, as one number."""
        refused = " + ".join(f"CASE WHEN {one} THEN 1 ELSE 0 END" for one in self.refusals) or "0"
        guess = (
            "CASE WHEN s.teeth IS NULL OR s.chain_designation = '' AND (s.pitch_mm IS NULL OR "
            f"s.roller_diameter_mm IS NULL OR s.inner_width_mm IS NULL) THEN {GUESS_STEP} ELSE 0 END"
        )
        usable = "0"
        if self.works:
            usable = f"CASE WHEN {any_of(self.works)} THEN {GRADE_STEP} ELSE 0 END"
        if self.reviews:
            usable = (
                f"CASE WHEN {any_of(self.reviews)} THEN {2 * GRADE_STEP} + {self._open_sql} ELSE {usable} END"
            )
        found = f"CASE WHEN {any_of(self.refusals)} THEN {UNFIT_CLASS} + {refused} ELSE {usable} END"
        return f"{found if self.refusals else usable} + {guess}"

    @property
    def _open_sql(self) -> str:
        open_by = [(one, 1) for one in self.open] + [(self.mounting, MOUNTING_STEP + 1)]
        cases = (f"CASE WHEN {any_of(one)} THEN {step} ELSE 0 END" for one, step in open_by if one)
        return f"({' + '.join(cases)})"

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
        """At the counts about the one that is required, by the core, with everything else of the item unknown."""
        if self.required.teeth is not None:
            self.reviews.append("s.teeth IS NULL")
        if self.teeth is None:
            return
        refused: dict[Aspect, list[str]] = {Aspect.TEETH: [], Aspect.RATING: []}
        for rims, sprocket, wanted in self._cuts():
            for step in (-1, 1):
                self._walk_counts(rims, sprocket, wanted, step, refused)
        self.refusals += [f"({any_of(conditions)})" for conditions in refused.values() if conditions]

    def _cuts(self) -> Iterator[tuple[str, Sprocket, float]]:
        """Rims on which a count means the same, one of them, and the count that on them is as good as the required one.

        Chain of double pitch on standard rollers lies in every second gap of any other rim and of one that is cut double.
        """
        chain, wanted = self.required.chain, self.required.effective_teeth
        if chain is None or wanted is None:
            return
        base = Sprocket(chain=chain, strands=self.required.strands)
        if not chain.is_double_pitch or chain.has_large_rollers:
            yield "", base, wanted
            return
        rims = [one for one in _rims() if has_pitch_near(self.required, one.pitch_mm, self.practice)]
        every_second = [one for one in rims if not one.is_double_pitch]
        if every_second:
            yield self._named(every_second), replace(base, chain=every_second[0]), 2 * wanted
        double = self._named([one for one in rims if one.is_double_pitch])
        if self.required.single_cut is None:
            self.reviews.append(f"({double})")
            return
        self.reviews.append(f"({double} AND s.single_cut IS NULL)")
        yield f"{double} AND s.single_cut", replace(base, single_cut=True), wanted
        yield f"{double} AND NOT s.single_cut", replace(base, single_cut=False), 2 * wanted

    def _named(self, rims: Iterable[Engagement]) -> str:
        return f"s.chain_designation IN {self.parameters.put_all(str(one.designation) for one in rims)}"

    def _walk_counts(
        self, rims: str, sprocket: Sprocket, wanted: float, step: int, refused: dict[Aspect, list[str]]
    ) -> None:
        """Away from the wanted count, to the first that is too far from it: so are all behind it."""
        least, most = self.teeth or (0, 0)
        start = min(floor(wanted), most) if step < 0 else max(floor(wanted) + 1, least)
        end = max(least, start - MOST_COUNTS) - 1 if step < 0 else min(most, start + MOST_COUNTS) + 1
        also = f"{rims} AND " if rims else ""
        for count in range(start, end, step):
            findings = self.judge(replace(sprocket, teeth=count)).findings
            teeth = worst_of(findings, Aspect.TEETH)
            if teeth is not None and teeth.code in TOO_FAR:
                refused[Aspect.TEETH].append(
                    f"{also}s.teeth {'<=' if step < 0 else '>='} {self.parameters.put(count)}"
                )
                return
            condition = f"{also}s.teeth = {self.parameters.put(count)}"
            for aspect, conditions in refused.items():
                if outcome_of(findings, aspect) is Outcome.NO:
                    conditions.append(condition)
            is_review = any(outcome_of(findings, one) is Outcome.REVIEW for one in refused)
            if is_review or any(_is_settled_review(one) and one.aspect is Aspect.DUTY for one in findings):
                self.reviews.append(f"({condition})")
            steps = [work for one in findings if one.aspect in COUNT_ASPECTS for work in one.work]
            if steps:
                self.works.append(f"({condition})")
                self.takes(f"({condition})", steps)

    def _of_chain(self) -> None:
        """At each chain of the tables that the pitch allows; a recorded width of tooth may say something else."""
        chain = self.required.chain
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
        near = [one for one in _rims() if has_pitch_near(self.required, one.pitch_mm, self.practice)]
        found = [(self._outcomes(near, rows), of_rows) for rows, of_rows in self._rows_of_rims()]
        if all(names == found[0][0] for names, _ in found):
            found = [(found[0][0], "")]
        refused: list[str] = []
        for names, of_rows in found:
            for outcome, conditions in ((Outcome.NO, refused), (Outcome.REVIEW, self.reviews)):
                if outcome in names:
                    named = self._named(names[outcome])
                    conditions.append(f"({named} AND s.tooth_width_mm IS NULL{of_rows})")
        if refused:
            self.refusals.append(f"({any_of(refused)})")

    def _outcomes(
        self, rims: Iterable[Engagement], rows: int | None
    ) -> dict[Outcome | None, list[Engagement]]:
        found: dict[Outcome | None, list[Engagement]] = defaultdict(list)
        for rim in rims:
            found[self._settled(check_chain, Sprocket(chain=rim, strands=rows), Aspect.CHAIN)].append(rim)
        return found

    def _rows_of_rims(self) -> Iterator[tuple[int | None, str]]:
        """From two rows on they have to line up, and fewer of them do not hinder that."""
        own = self.required.strands
        if own is None or own == 1:
            yield own, ""
            return
        rows = self.parameters.put(own)
        yield 1, f" AND s.strands < {rows}"
        yield own, f" AND (s.strands IS NULL OR s.strands >= {rows})"

    def _settled(
        self,
        check: Callable[[Requirement, Sprocket, Practice], tuple[Finding, ...]],
        offered: Sprocket,
        aspect: Aspect,
    ) -> Outcome | None:
        def find(given: tuple[Requirement, Sprocket]) -> tuple[Finding, ...]:
            return check(*given, self.practice)

        return outcome_of(
            settle(find, (self.required, offered), table_doubts(self.required, offered)), aspect
        )

    def _of_material(self) -> None:
        found: dict[Outcome, list[str]] = {Outcome.NO: [], Outcome.REVIEW: []}
        for word in ("", *Material):
            grade = (self.required.material_grade or "316") if word == Material.STAINLESS_STEEL else None
            offered = Sprocket(material=Material(word) if word else None, material_grade=grade)
            outcome = outcome_of(check_material(self.required, offered, self.practice), Aspect.MATERIAL)
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
            is_shaft_known = self.required.shaft is not None and self.required.shaft.diameter_mm is not None
            (self.works if is_shaft_known else self.reviews).append(f"({wide} AND s.hub_style <> 'A')")
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
            self.refusals.append(any_of(refused))

    def _of_mounting(self) -> None:
        self.reviews.append("s.bore_type = ''")
        shaft = self.required.shaft
        if shaft is None:
            self._of_mounting_without_shaft()
            return
        mounting = MountingBound(self, shaft)
        refused = mounting.refused()
        if refused:
            self.refusals.append(f"(({any_of(refused)}) AND NOT ({self.same_mounting}))")
        mounting.bound_rest()

    def _of_mounting_without_shaft(self) -> None:
        """Only what is mounted as the replaced part is fits for certain, a pilot bore in place of one, or a hub for the same bush."""
        replaced = self.required.interface
        if replaced is None or not is_bushed(replaced):
            is_pilot = replaced is not None and replaced.bore_type is BoreType.PLAIN
            self.reviews.append(self.and_not_same("s.bore_type <> 'plain'" if is_pilot else "1 = 1"))
            return
        self.reviews.append(f"s.bore_type NOT IN {BUSHED}")
        self.refusals.append(
            f"s.bore_type NOT IN {BUSHED} AND s.bore_type NOT IN {ROUND} AND s.bore_type <> ''"
        )
        outcomes = {size: outcome_of(self.mounting_of(size), Aspect.MOUNTING) for size in BUSH_SIZES}
        for outcome, conditions in ((Outcome.NO, self.refusals), (Outcome.REVIEW, self.reviews)):
            sizes = [size for size, found in outcomes.items() if found is outcome]
            if sizes:
                conditions.append(self.and_not_same(self.of_bush_size(sizes)))


COUNT_ASPECTS = (Aspect.TEETH, Aspect.CHAIN_WEAR)


@cache
def _rims() -> tuple[Engagement, ...]:
    return tuple(Engagement.of(chain) for chain in chains())


def _is_settled_review(found: Finding) -> bool:
    return found.outcome is Outcome.REVIEW and not found.is_unchecked

"""How long a candidate lasted compared with the item usually fitted: evidence beside the verdict, never part of it.

Lives at the position itself are used; where those are too few, those at all positions that need the same chain, teeth and
role. Units fitted for a limited time are kept apart from those fitted to stay. The result is at most a review: no history
changes a grade, but among equal grades an item that lasted shorter is never put first.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import Any

from drives.lessons.life_comparison import (
    FEWEST_LIVES,
    FEWEST_TOGETHER,
    LifeSample,
    compare_lives,
    is_usable,
    shown_among,
)
from drives.lessons.unit_lives import UnitLife, UnitRow, unit_life
from drives.models import Installation, Position
from drives.reliability.survival import LifetimeComparison
from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import Outcome
from inventory.models import Item
from inventory.plumbing.joint_statement import Parameters, Question, Row, answers, moment_of


@dataclass(frozen=True)
class TrackRecord:
    """`fitted`, `ended` and `mean_hours` are of this position, the rest of the lives that were compared."""

    fitted: int
    ended: int
    mean_hours: float | None
    median_hours: float | None = None
    against: str | None = None
    against_median_hours: float | None = None
    p_value: float | None = None
    method: str = ""
    reason: Fact | None = None
    is_shorter: bool = False
    is_outlasted: bool = False
    """Shorter at this very position, or all of a few lives were: among equal grades it is never put first."""

    @property
    def is_caution(self) -> bool:
        return self.is_shorter or self.is_outlasted

    @property
    def outcome(self) -> Outcome | None:
        """Review at most; None where the lives show nothing against it."""
        return Outcome.REVIEW if self.is_shorter else None


@dataclass(frozen=True)
class FittedHere:
    """All lives at a position and those alike, and the item usually fitted there."""

    position_id: int
    lives: Sequence[UnitLife]
    stock_numbers: dict[int, str]

    @cached_property
    def _usable(self) -> dict[tuple[int | None, bool], list[UnitLife]]:
        found: dict[tuple[int | None, bool], list[UnitLife]] = defaultdict(list)
        for life in self.lives:
            if is_usable(life):
                found[life.item_id, life.is_temporary].append(life)
        return found

    def sample(self, item: int, *, is_here: bool, is_temporary: bool = False) -> LifeSample:
        lives = self._usable.get((item, is_temporary), ())
        if is_here:
            lives = [life for life in lives if life.position_id == self.position_id]
        return LifeSample(tuple(lives), is_here, is_temporary)

    def records(self, items: Iterable[int]) -> dict[int, TrackRecord]:
        """Of those of the items that were ever fitted."""
        fitted = sorted({*items} & self.stock_numbers.keys())
        return {item: _record(self, item, self._comparisons) for item in fitted}

    @cached_property
    def _comparisons(self) -> "_Comparisons":
        """All that can be made for this place, whoever was asked about: what is shown depends on how many there are."""
        usual, found = self.usual_item(), {}
        for item in sorted(self.stock_numbers):
            against = self.usual_item(other_than=item) if item == usual else usual
            if against is not None:
                samples = _samples(self, item, against)
                found[item] = _Compared(against, *samples, compare_lives(*samples))
        tested = {item: one.test for item, one in found.items() if one.test is not None}
        pairs = len({frozenset((item, found[item].against)) for item in tested})
        return _Comparisons(usual, found, shown_among(tested, pairs), pairs)

    def usual_item(self, *, other_than: int | None = None) -> int | None:
        """Fitted most often to stay, here or else at positions alike; of equals the one with the most hours."""
        to_stay = [life for life in self.lives if not life.is_temporary and life.item_id != other_than]
        here = [life for life in to_stay if life.position_id == self.position_id] or to_stay
        counts = Counter(life.item_id for life in here)
        hours: Counter[int | None] = Counter()
        for life in here:
            hours[life.item_id] += int(life.hours or 0)
        return min(counts, key=lambda item: (-counts[item], -hours[item], item or 0), default=None)


@dataclass(frozen=True)
class _Compared:
    against: int
    own: LifeSample
    usual: LifeSample
    test: LifetimeComparison | None


@dataclass(frozen=True)
class _Comparisons:
    """By item. `count` is that of the tests, a test and the same one turned round counted once."""

    usual: int | None
    by_item: Mapping[int, _Compared]
    shown: frozenset[int]
    count: int


def lives_question(position: Position, put: Parameters) -> Question:
    """Every unit at the position and at those that need the same chain, teeth and role; only at itself where these are not recorded."""
    drive = position.drive
    places = f"u.position_id = {put.put(position.pk)}"
    if position.teeth is not None and drive.pitch_mm is not None and drive.roller_diameter_mm is not None:
        alike = {"p.teeth": position.teeth, "p.role": str(position.role)}
        names = ("chain_designation", "pitch_mm", "roller_diameter_mm", "strands")
        alike |= {f"d.{name}": getattr(drive, name) for name in names}
        same = (
            f"{column} IS NULL" if value is None else f"{column} = {put.put(value)}"
            for column, value in alike.items()
        )
        places = (
            "u.position_id IN (SELECT p.id FROM drives_position p JOIN drives_drive d ON d.id = p.drive_id "
            f"WHERE {' AND '.join(same)})"
        )
    return Question(
        UNIT_COLUMNS,
        "FROM drives_installation u JOIN inventory_item i ON i.id = u.item_id "
        "JOIN drives_position q ON q.id = u.position_id JOIN drives_drive e ON e.id = q.drive_id "
        f"WHERE {places}",
    )


UNIT_COLUMNS = (
    *("i.stock_number", "u.id", "u.position_id", "u.item_id", "u.installed_at", "u.removed_at"),
    *("u.running_hours", "u.age_basis", "u.ended_by", "u.mechanism", "u.work_order", "u.temporary_until"),
    "e.hours_per_year",
)


def fitted_by(rows: Iterable[Row], position: Position, at: datetime) -> "FittedHere":
    """Of the rows of `lives_question`: as they were known at a moment."""
    found = [(number, pk, _unit_row(columns)) for number, pk, *columns in rows]
    known = sorted(
        (one for one in found if one[2].installed_at <= at),
        key=lambda one: (one[2].position_id, one[2].installed_at, one[1]),
    )
    stock_numbers = {row.item_id: number for number, _, row in known if row.item_id is not None}
    lives = [unit_life(row, at, known_until=at) for _, _, row in known]
    return FittedHere(position.pk, lives, stock_numbers)


def _unit_row(columns: Row) -> UnitRow:
    position, item, installed, removed, *others = columns
    return UnitRow(position, item, moment_of(installed), removed and moment_of(removed), *others)


def track_records(position: Position, items: Iterable[Item], at: datetime) -> dict[int, TrackRecord]:
    """Of each item that was fitted here or at a position alike by a moment; one query. The position has its drive."""
    put = Parameters()
    found = answers(Installation, put, {"lives": lives_question(position, put)})
    return fitted_by(found["lives"], position, at).records(item.pk for item in items)


def _record(fitted: FittedHere, item: int, compared: _Comparisons) -> TrackRecord:
    own = [life for life in fitted.lives if life.item_id == item and life.position_id == fitted.position_id]
    ended = [life for life in own if not life.is_running]
    hours = [life.hours for life in ended if life.hours is not None]
    here = TrackRecord(
        fitted=len(own), ended=len(ended), mean_hours=round(sum(hours) / len(hours), 1) if hours else None
    )
    found = here
    if item in compared.by_item:
        name = fitted.stock_numbers[compared.by_item[item].against]
        found = _compared(here, compared.by_item[item], item in compared.shown, compared.count, name=name)
    # The usual part is compared with the next one, and that is said only where it lasted shorter.
    return _of_usual(here, fitted, item) if item == compared.usual and not found.is_outlasted else found


def _of_usual(here: TrackRecord, fitted: FittedHere, item: int) -> TrackRecord:
    sample, alike = (fitted.sample(item, is_here=alone) for alone in (True, False))
    if len(sample.lives) < FEWEST_TOGETHER and len(alike.lives) > len(sample.lives):
        sample = alike
    median = sample.median_hours
    reason = fact("usual_part_lives", lives=len(sample.lives), median_hours=median, is_here=sample.is_here)
    return replace(here, median_hours=median, reason=reason if sample.lives else None)


def _samples(fitted: FittedHere, item: int, usual: int) -> tuple[LifeSample, LifeSample]:
    """Candidate and usual item, both here or both at all positions alike; those fitted to stay are preferred."""
    options = [
        (
            fitted.sample(item, is_here=alone, is_temporary=is_temporary),
            fitted.sample(usual, is_here=alone),
        )
        for is_temporary in (False, True)
        for alone in (True, False)
    ]
    enough = [pair for pair in options if pair[0].is_comparable(pair[1])]
    some = [pair for pair in options if pair[0].lives]
    return (enough or some or options)[0]


def _compared(
    here: TrackRecord, compared: _Compared, is_shown: bool, count: int, *, name: str
) -> TrackRecord:
    own, usual, found = compared.own, compared.usual, compared.test
    is_shorter = found is not None and is_shown and found.surplus > 0
    return replace(
        here,
        median_hours=own.median_hours,
        against=name if usual.lives else None,
        against_median_hours=usual.median_hours,
        p_value=None if found is None else round(found.p_one_sided, 4),
        method="" if found is None else _method(found),
        reason=_reason(compared, is_shown, count, name=name),
        is_shorter=is_shorter,
        # Elsewhere one may have had the harder places.
        is_outlasted=own.is_here and (is_shorter or own.has_only_shorter(usual)),
    )


def _reason(compared: _Compared, is_shown: bool, count: int, *, name: str) -> Fact:
    own, usual, found = compared.own, compared.usual, compared.test
    lives: dict[str, Any] = {
        "lives": len(own.lives),
        "is_here": own.is_here,
        "is_temporary": own.is_temporary,
    }
    if not usual.lives:
        return fact("lives_without_usual_part", **lives)
    lives |= {"against": name, "against_lives": len(usual.lives)}
    medians = {"median_hours": own.median_hours, "against_median_hours": usual.median_hours}
    if found is None and own.has_only_shorter(usual):
        return fact("lives_all_shorter", **lives, **medians)
    if found is None:
        return fact(
            "lives_too_few_to_compare", **lives, least_lives=FEWEST_LIVES, least_together=FEWEST_TOGETHER
        )
    test = {"p_value": float(f"{found.p_one_sided:.4g}"), "method": _method(found), "ways": found.ways}
    test |= {"comparisons": count}
    if not is_shown:
        return fact("lives_alike", **lives, **medians, **test)
    code = "lives_shorter" if found.surplus > 0 else "lives_longer"
    return fact(code, **lives, **medians, **test)


def _method(found: LifetimeComparison) -> str:
    return "log_rank" if found.ways is None else "exact_permutation"

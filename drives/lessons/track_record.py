"""How long a candidate lasted compared with the item usually fitted: evidence beside the verdict, never part of it.

Lives at the position itself are used; where those are too few, those at all positions that need the same chain, teeth and
role. Units fitted for a limited time are kept apart from those fitted to stay. The result is at most a review: no history
changes a grade, but among equal grades an item that lasted shorter is never put first.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import Q

from drives.lessons.life_comparison import (
    FEWEST_LIVES,
    FEWEST_TOGETHER,
    LifeSample,
    compare_lives,
    is_usable,
    shown_among,
)
from drives.lessons.unit_lives import UnitLife, unit_life
from drives.models import Installation, Position
from drives.reliability.survival import LifetimeComparison
from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import Outcome
from inventory.models import Item


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
class _FittedHere:
    """All lives at a position and those alike, and the item usually fitted there."""

    position_id: int
    lives: Sequence[UnitLife]
    stock_numbers: dict[int, str]

    def sample(self, item: int, *, is_here: bool, is_temporary: bool = False) -> LifeSample:
        lives = (
            life
            for life in self.lives
            if life.item_id == item
            and life.is_temporary is is_temporary
            and is_usable(life)
            and (life.position_id == self.position_id or not is_here)
        )
        return LifeSample(tuple(lives), is_here, is_temporary)

    def comparisons(self) -> "_Comparisons":
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


def track_records(position: Position, items: Iterable[Item], at: datetime) -> dict[int, TrackRecord]:
    """Of each item that was fitted here or at a position alike by a moment; one query. The position has its drive."""
    rows = (
        Installation.objects.filter(_alike(position), item__isnull=False, installed_at__lte=at)
        .select_related("position__drive", "item")
        .order_by("position_id", "installed_at", "id")
    )
    stock_numbers = {row.item.pk: row.item.stock_number for row in rows if row.item}
    fitted = _FittedHere(position.pk, [unit_life(row, at, known_until=at) for row in rows], stock_numbers)
    candidates = sorted({item.pk for item in items} & stock_numbers.keys())
    compared = fitted.comparisons()
    return {item: _record(fitted, item, compared) for item in candidates}


def _alike(position: Position) -> Q:
    """The position and those that need the same chain, teeth and role; only itself where these are not recorded."""
    here, drive = Q(position=position), position.drive
    if position.teeth is None or drive.pitch_mm is None or drive.roller_diameter_mm is None:
        return here
    alike = Position.objects.filter(
        teeth=position.teeth,
        role=position.role,
        drive__chain_designation=drive.chain_designation,
        drive__pitch_mm=drive.pitch_mm,
        drive__roller_diameter_mm=drive.roller_diameter_mm,
        drive__strands=drive.strands,
    )
    return here | Q(position__in=alike.order_by())


def _record(fitted: _FittedHere, item: int, compared: _Comparisons) -> TrackRecord:
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


def _of_usual(here: TrackRecord, fitted: _FittedHere, item: int) -> TrackRecord:
    sample, alike = (fitted.sample(item, is_here=alone) for alone in (True, False))
    if len(sample.lives) < FEWEST_TOGETHER and len(alike.lives) > len(sample.lives):
        sample = alike
    median = sample.median_hours
    reason = fact("usual_part_lives", lives=len(sample.lives), median_hours=median, is_here=sample.is_here)
    return replace(here, median_hours=median, reason=reason if sample.lives else None)


def _samples(fitted: _FittedHere, item: int, usual: int) -> tuple[LifeSample, LifeSample]:
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

"""How long a candidate lasted here against what is usually fitted: evidence beside the verdict, never a part of it.

Lives at the position itself speak first; with fewer than three of either there, those of all positions that ask for the
same chain, teeth and role. What was let in for a time only is kept apart from what was fitted to stay. The strongest word
is a review: no history makes fit what does not fit, and no grade better than it is.
"""

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import Q

from drives.models import Installation, Position
from drives.reliability.lifetimes import OBSERVED_ENDS, Lifetimes, right_censored
from drives.reliability.survival import (
    MOST_SPLITS,
    LifetimeComparison,
    log_rank,
    permutation_test,
    survival_curve,
)
from drives.service_record.history import calendar_hours
from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import Outcome
from inventory.models import Item

FEWEST_LIVES = 3
"""Of each: three against three give p = 0.1 at best, three against six 0.048."""

TELLING_P = 0.05
"""Common practice; one candidate in twenty is called out by chance alone, so the word is a review and no more."""


@dataclass(frozen=True)
class TrackRecord:
    """How candidates of this number fared. `fitted`, `ended` and `mean_hours` are of this position; the rest is of the
    lives that were compared."""

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

    @property
    def outcome(self) -> Outcome | None:
        """Review at the most; None where the lives tell nothing against it."""
        return Outcome.REVIEW if self.is_shorter else None


@dataclass(frozen=True)
class _Life:
    """A unit from fitting to its end, or to the moment looked from."""

    position_id: int
    item_id: int
    stock_number: str
    hours: float | None
    has_ended: bool
    is_observed: bool
    is_temporary: bool

    @property
    def counts(self) -> bool:
        return self.hours is not None and (self.hours > 0 or not self.is_observed)


@dataclass(frozen=True)
class _Sample:
    """Lives of one item that may be compared, and where they were lived."""

    lives: tuple[_Life, ...]
    is_here: bool
    is_temporary: bool = False

    @property
    def is_enough(self) -> bool:
        return len(self.lives) >= FEWEST_LIVES

    def as_lives(self) -> Lifetimes:
        return right_censored(
            [life.hours or 0.0 for life in self.lives], observed=[life.is_observed for life in self.lives]
        )

    @property
    def stock_number(self) -> str | None:
        return self.lives[0].stock_number if self.lives else None

    @property
    def median_hours(self) -> float | None:
        """Of the survival curve; None where more than half are still running or were taken off sound."""
        if not self.lives:
            return None
        curve = survival_curve(self.as_lives())
        below = [
            hours for hours, left in zip(curve.hours, curve.survival, strict=True) if left <= 0.5 + 1e-12
        ]
        return float(below[0]) if below else None


def track_records(position: Position, items: Iterable[Item], at: datetime) -> dict[int, TrackRecord]:
    """Of every item that was fitted here or at a position alike by a moment; one query. The position has its drive."""
    lives = _lives(position, at)
    usual = _usually_fitted(lives, position.pk)
    wanted = {item.pk for item in items}
    fitted = {life.item_id: life.stock_number for life in lives}
    return {item: _record(lives, position.pk, item, usual) for item in sorted(wanted & set(fitted)) if item}


def _lives(position: Position, at: datetime) -> list[_Life]:
    rows = (
        Installation.objects.filter(_alike(position), item__isnull=False, installed_at__lte=at)
        .select_related("position__drive", "item")
        .order_by("position_id", "installed_at", "id")
    )
    return [_life(row, at) for row in rows]


def _alike(position: Position) -> Q:
    """The position itself, and those that ask for the same chain, teeth and role; none but itself where that is not known."""
    here, drive = Q(position=position), position.drive
    if position.teeth is None or drive.pitch_mm is None or drive.roller_diameter_mm is None:
        return here
    return here | Q(
        position__teeth=position.teeth,
        position__role=position.role,
        position__drive__chain_designation=drive.chain_designation,
        position__drive__pitch_mm=drive.pitch_mm,
        position__drive__roller_diameter_mm=drive.roller_diameter_mm,
        position__drive__strands=drive.strands,
    )


def _life(row: Installation, at: datetime) -> _Life:
    ended = row.removed_at is not None and row.removed_at <= at
    return _Life(
        position_id=row.position_id,
        item_id=row.item_id or 0,
        stock_number=row.item.stock_number if row.item else "",
        hours=_hours(row, at, ended),
        has_ended=ended,
        is_observed=ended and row.ended_by in OBSERVED_ENDS,
        is_temporary=row.temporary_until is not None,
    )


def _hours(row: Installation, at: datetime, ended: bool) -> float | None:
    if ended and row.running_hours is not None:
        return float(row.running_hours)
    per_year = row.position.drive.hours_per_year
    if per_year is None:
        return None
    until = row.removed_at if ended and row.removed_at else at
    return float(calendar_hours(row.installed_at, until, per_year))


def _usually_fitted(lives: list[_Life], position_id: int) -> int | None:
    """The item fitted most often to stay, here or else at the positions alike; of equals the one that ran longest."""
    staying = [life for life in lives if not life.is_temporary]
    here = [life for life in staying if life.position_id == position_id] or staying
    counts = Counter(life.item_id for life in here)
    hours: Counter[int] = Counter()
    for life in here:
        hours[life.item_id] += int(life.hours or 0)
    return min(counts, key=lambda item: (-counts[item], -hours[item], item), default=None)


def _record(lives: list[_Life], position_id: int, item: int, usual: int | None) -> TrackRecord:
    own = [life for life in lives if life.item_id == item and life.position_id == position_id]
    hours = [life.hours for life in own if life.has_ended and life.hours is not None]
    record = TrackRecord(
        fitted=len(own),
        ended=sum(life.has_ended for life in own),
        mean_hours=round(sum(hours) / len(hours), 1) if hours else None,
    )
    if usual is None or item == usual:
        return _of_the_usual(record, _sample(lives, position_id, item))
    return _compared(record, *_samples(lives, position_id, item, usual))


def _sample(lives: list[_Life], position_id: int, item: int, *, is_temporary: bool = False) -> _Sample:
    here = _Sample(_chosen(lives, item, is_temporary, position_id), True, is_temporary)
    if here.is_enough:
        return here
    alike = _Sample(_chosen(lives, item, is_temporary, None), False, is_temporary)
    return alike if len(alike.lives) > len(here.lives) else here


def _samples(lives: list[_Life], position_id: int, item: int, usual: int) -> tuple[_Sample, _Sample]:
    """Candidate and usual, both of the same place; what was fitted to stay before what was let in for a time."""
    options = [
        (
            _Sample(_chosen(lives, item, is_temporary, place), place is not None, is_temporary),
            _Sample(_chosen(lives, usual, False, place), place is not None),
        )
        for is_temporary in (False, True)
        for place in (position_id, None)
    ]
    enough = [pair for pair in options if pair[0].is_enough and pair[1].is_enough]
    some = [pair for pair in options if pair[0].lives]
    return (enough or some or options)[0]


def _chosen(lives: list[_Life], item: int, is_temporary: bool, place: int | None) -> tuple[_Life, ...]:
    return tuple(
        life
        for life in lives
        if life.counts
        and life.item_id == item
        and life.is_temporary is is_temporary
        and place in (None, life.position_id)
    )


def _of_the_usual(record: TrackRecord, sample: _Sample) -> TrackRecord:
    if not sample.lives:
        return record
    values = {"lives": len(sample.lives), "median_hours": sample.median_hours, "is_here": sample.is_here}
    return replace(record, median_hours=sample.median_hours, reason=fact("usual_part_lives", **values))


def _compared(record: TrackRecord, own: _Sample, usual: _Sample) -> TrackRecord:
    found = _comparison(own, usual)
    return replace(
        record,
        median_hours=own.median_hours,
        against=usual.stock_number,
        against_median_hours=usual.median_hours,
        p_value=None if found is None else round(found.p_value, 4),
        method="" if found is None else _method(found),
        reason=_reason(own, usual, found),
        is_shorter=found is not None and found.p_value <= TELLING_P and found.surplus > 0,
    )


def _comparison(own: _Sample, usual: _Sample) -> LifetimeComparison | None:
    """Exact where the ways to share the lives out can be counted, else by their ends against their share."""
    if not own.is_enough or not usual.is_enough:
        return None
    if not any(life.is_observed for life in (*own.lives, *usual.lives)):
        return None
    ways = math.comb(len(own.lives) + len(usual.lives), len(own.lives))
    compare = permutation_test if ways <= MOST_SPLITS else log_rank
    return compare(own.as_lives(), usual.as_lives())


def _reason(own: _Sample, usual: _Sample, found: LifetimeComparison | None) -> Fact:
    lives: dict[str, Any] = {
        "lives": len(own.lives),
        "is_here": own.is_here,
        "is_temporary": own.is_temporary,
    }
    if not usual.lives:
        return fact("lives_without_usual_part", **lives)
    lives |= {"against": usual.stock_number, "against_lives": len(usual.lives)}
    if found is None:
        return fact("lives_too_few_to_compare", **lives, least_lives=FEWEST_LIVES)
    medians = {"median_hours": own.median_hours, "against_median_hours": usual.median_hours}
    test = {"p_value": float(f"{found.p_value:.4g}"), "method": _method(found), "ways": found.ways}
    if found.p_value > TELLING_P:
        return fact("lives_alike", **lives, **medians, **test)
    code = "lives_shorter" if found.surplus > 0 else "lives_longer"
    return fact(code, **lives, **medians, **test)


def _method(found: LifetimeComparison) -> str:
    return "log_rank" if found.ways is None else "exact_permutation"

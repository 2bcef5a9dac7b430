"""Did the units of one item last shorter than those of another? The exact test where the lives can be counted, one-sided."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from drives.lessons.unit_lives import UnitLife
from drives.reliability.lifetimes import Lifetimes, right_censored
from drives.reliability.survival import (
    MOST_SPLITS,
    LifetimeComparison,
    log_rank,
    permutation_test,
    survival_curve,
)

FEWEST_LIVES = 2
"""One life may have been an accident: judgement."""
FEWEST_TOGETHER = 5
"""Two against three give p = 0.1 at best; with fewer no difference could ever be shown."""

CAUTION_P = 0.1
"""One-sided, for all comparisons of one place together; judgement. Where all last alike one place in ten has a caution by chance
alone, so the result is a caution and no more."""

ROUNDING = 1e-9


@dataclass(frozen=True)
class LifeSample:
    """Usable lives of one item, at the position alone or at all alike."""

    lives: tuple[UnitLife, ...]
    is_here: bool = True
    is_temporary: bool = False

    def lifetimes(self) -> Lifetimes:
        return right_censored(
            [life.hours or 0.0 for life in self.lives], observed=[life.is_observed for life in self.lives]
        )

    @property
    def median_hours(self) -> float | None:
        """Of the survival curve; None where more than half are in service or were removed in working order."""
        if not self.lives:
            return None
        curve = survival_curve(self.lifetimes())
        below = [
            hours for hours, left in zip(curve.hours, curve.survival, strict=True) if left <= 0.5 + 1e-12
        ]
        return float(below[0]) if below else None

    def is_comparable(self, other: "LifeSample") -> bool:
        counts = len(self.lives), len(other.lives)
        return min(counts) >= FEWEST_LIVES and sum(counts) >= FEWEST_TOGETHER

    def has_only_shorter(self, other: "LifeSample") -> bool:
        """Every life ended before the shortest of the other, of which some may still run."""
        if min(len(self.lives), len(other.lives)) < FEWEST_LIVES:
            return False
        ended = all(life.is_observed for life in self.lives)
        return ended and max(_hours(self)) < min(_hours(other))


def _hours(sample: LifeSample) -> list[float]:
    return [life.hours or 0.0 for life in sample.lives]


def is_usable(life: UnitLife) -> bool:
    return life.hours is not None and (life.hours > 0 or not life.is_observed)


def compare_lives(own: LifeSample, other: LifeSample) -> LifetimeComparison | None:
    """None where they are too few, or none has ended. Exact where all ways to split the lives can be counted, else log-rank."""
    if not own.is_comparable(other) or not any(life.is_observed for life in (*own.lives, *other.lives)):
        return None
    ways = math.comb(len(own.lives) + len(other.lives), len(own.lives))
    compare = permutation_test if ways <= MOST_SPLITS else log_rank
    return compare(own.lifetimes(), other.lifetimes())


def shown_among(compared: Mapping[int, LifetimeComparison], count: int) -> frozenset[int]:
    """Those that differ; where none does, the chance that any is said to be shorter is at most `CAUTION_P`, and so for longer."""
    return frozenset().union(
        *(
            _holm(
                {item: one.p_one_sided for item, one in compared.items() if (one.surplus > 0) is is_shorter},
                count,
            )
            for is_shorter in (True, False)
        )
    )


def _holm(p_values: Mapping[int, float], count: int) -> frozenset[int]:
    """Of so many tests, those whose difference is shown.

    Source: Holm 1979, Scandinavian Journal of Statistics 6 (from memory).

    >>> sorted(_holm({1: 0.02, 2: 0.06, 3: 0.04}, 3)), sorted(_holm({1: 0.04, 2: 0.06}, 3))
    ([1, 2, 3], [])
    """
    found: list[int] = []
    for key, p_value in sorted(p_values.items(), key=lambda one: one[1]):
        if p_value * max(count - len(found), 1) > CAUTION_P + ROUNDING:
            break
        found.append(key)
    return frozenset(found)


@dataclass(frozen=True, kw_only=True)
class ShorterLives:
    """An item whose units lasted shorter than those of other items; p is None where a few lives were all shorter."""

    against_ids: tuple[int, ...]
    lives: int
    median_hours: float | None
    against_lives: int
    against_median_hours: float | None
    p_value: float | None


def shorter_lived_items(lives: Iterable[UnitLife]) -> dict[int, ShorterLives]:
    """Of these lives, the items that lasted shorter than all the others together, at the positions that had both.

    Units fitted for a limited time count where an item was never fitted to stay.
    """
    by_item = _usable_by_item(lives)
    samples = {item: _against_all_others(by_item, item) for item in by_item}
    compared = {item: found for item, some in samples.items() if (found := compare_lives(*some)) is not None}
    # Of two items the second comparison is the first one turned round.
    count = len(compared) if len(compared) > 2 else 1
    shown = shown_among(compared, count)
    return {
        item: _shorter_lives(own, rest, compared.get(item))
        for item, (own, rest) in samples.items()
        if own.has_only_shorter(rest) or (item in shown and compared[item].surplus > 0)
    }


def _against_all_others(by_item: Mapping[int, list[UnitLife]], item: int) -> tuple[LifeSample, LifeSample]:
    others = [life for other, some in by_item.items() if other != item for life in some]
    both = {life.position_id for life in by_item[item]} & {life.position_id for life in others}
    own, rest = (
        LifeSample(tuple(life for life in some if life.position_id in both))
        for some in (by_item[item], others)
    )
    return own, rest


def _shorter_lives(own: LifeSample, rest: LifeSample, found: LifetimeComparison | None) -> ShorterLives:
    return ShorterLives(
        against_ids=tuple(sorted({life.item_id for life in rest.lives if life.item_id})),
        lives=len(own.lives),
        median_hours=own.median_hours,
        against_lives=len(rest.lives),
        against_median_hours=rest.median_hours,
        p_value=None if found is None else float(f"{found.p_one_sided:.4g}"),
    )


def _usable_by_item(lives: Iterable[UnitLife]) -> dict[int, list[UnitLife]]:
    usable = [life for life in lives if life.item_id is not None and is_usable(life)]
    to_stay = {life.item_id for life in usable if not life.is_temporary}
    by_item: dict[int, list[UnitLife]] = defaultdict(list)
    for life in usable:
        if life.item_id is not None and (not life.is_temporary or life.item_id not in to_stay):
            by_item[life.item_id].append(life)
    return dict(sorted(by_item.items()))

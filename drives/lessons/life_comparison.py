"""Did the units of one item last shorter than those of another? The exact test where the lives can be counted, one-sided."""

import math
from collections import defaultdict
from collections.abc import Iterable
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
FEWEST_TOGETHER = 5
"""Two against three give p = 0.1 at best; with fewer no difference could ever be shown."""

CAUTION_P = 0.1
"""One-sided; judgement. One item in ten is named by chance alone, so the result is a caution and no more."""


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


def is_shown(found: LifetimeComparison) -> bool:
    return found.p_one_sided <= CAUTION_P + ROUNDING


def lasted_shorter(found: LifetimeComparison | None) -> bool:
    return found is not None and found.surplus > 0 and is_shown(found)


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
    found = {}
    for item, own_lives in by_item.items():
        others = [life for other, some in by_item.items() if other != item for life in some]
        both = {life.position_id for life in own_lives} & {life.position_id for life in others}
        own, rest = (
            LifeSample(tuple(life for life in some if life.position_id in both))
            for some in (own_lives, others)
        )
        compared = compare_lives(own, rest)
        if lasted_shorter(compared) or own.has_only_shorter(rest):
            found[item] = ShorterLives(
                against_ids=tuple(sorted({life.item_id for life in rest.lives if life.item_id})),
                lives=len(own.lives),
                median_hours=own.median_hours,
                against_lives=len(rest.lives),
                against_median_hours=rest.median_hours,
                p_value=None if compared is None else float(f"{compared.p_one_sided:.4g}"),
            )
    return found


def _usable_by_item(lives: Iterable[UnitLife]) -> dict[int, list[UnitLife]]:
    usable = [life for life in lives if life.item_id is not None and is_usable(life)]
    to_stay = {life.item_id for life in usable if not life.is_temporary}
    by_item: dict[int, list[UnitLife]] = defaultdict(list)
    for life in usable:
        if life.item_id is not None and (not life.is_temporary or life.item_id not in to_stay):
            by_item[life.item_id].append(life)
    return dict(sorted(by_item.items()))

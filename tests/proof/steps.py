"""Random steps that mean something in any order, so that a failing run can be cut down and played again."""

import random
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

WEIGHTS = {
    "receive": 18,
    "issue": 14,
    "issue_for_order": 9,
    "lend": 3,
    "override": 5,
    "found": 3,
    "not_there": 3,
    "give_back": 7,
    "scrap": 4,
    "transfer": 11,
    "count": 5,
    "count_seen": 5,
    "reverse": 10,
    "reserve": 14,
    "release": 4,
    "expire": 2,
    "again": 4,
    "another": 3,
}


@dataclass(frozen=True, slots=True)
class Step:
    """What to do, and dice that choose among what there is then: a place, a number, a quantity."""

    name: str
    dice: tuple[int, int, int, int]

    def __str__(self) -> str:
        return f"Step({self.name!r}, {self.dice})"


class Mismatch(AssertionError):  # noqa: N818 - reads as what it is
    """The service and the plain model part company, at that step of the run."""

    def __init__(self, sentence: str, step: int | None = None) -> None:
        super().__init__(sentence)
        self.step = step


def draw(seed: int, length: int) -> list[Step]:
    chance = random.Random(seed)
    names = chance.choices(list(WEIGHTS), weights=list(WEIGHTS.values()), k=length)
    return [Step(name, tuple(chance.randrange(1_000_000) for _ in range(4))) for name in names]


def shortest(
    steps: Sequence[Step], fails: Callable[[Sequence[Step]], bool], seconds: float = 60
) -> list[Step]:
    """The failing steps without those that the failure does not need, as far as the time goes."""
    kept, ends = list(steps), time.monotonic() + seconds
    size = max(1, len(kept) // 2)
    while size:
        for start in reversed(range(0, len(kept), size)):
            fewer = kept[:start] + kept[start + size :]
            if time.monotonic() < ends and fails(fewer):
                kept = fewer
        size //= 2
    return kept


def pick(values: Sequence[Any], dice: int) -> Any:
    return values[dice % len(values)]


def in_words(steps: Sequence[Step]) -> Iterator[str]:
    yield "the shortest steps found:"
    yield from (f"    {step}," for step in steps)

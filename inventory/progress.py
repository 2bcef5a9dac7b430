"""How far a calculation is, reported in the steps that it has anyway."""

from collections.abc import Callable, Iterator, Sequence
from itertools import accumulate
from typing import TypeVar

Progress = Callable[[int, int], None]
"""Called with the steps done and how many there are."""

Step = TypeVar("Step")


def unreported(done: int, total: int) -> None:
    """For callers that need no progress."""


def counted(steps: Sequence[Step], progress: Progress) -> Iterator[Step]:
    """Each step; it is reported as done when the next one is asked for.

    >>> list(counted("ab", lambda done, total: print(done, "of", total)))
    1 of 2
    2 of 2
    ['a', 'b']
    """
    for done, step in enumerate(steps, start=1):
        yield step
        progress(done, len(steps))


def stretches(progress: Progress, *shares: int) -> list[Progress]:
    """Parts of one calculation, one after another, each reporting its own steps; `shares` are those of the usual time.

    >>> load, judge = stretches(lambda done, total: print(f"{done / total:.0%}"), 1, 3)
    >>> load(1, 1)
    25%
    >>> judge(10, 20)
    62%
    """
    begins = accumulate(shares, initial=0)
    return [
        _stretch(progress, begin, share, sum(shares)) for begin, share in zip(begins, shares, strict=False)
    ]


def _stretch(progress: Progress, begin: int, share: int, whole: int) -> Progress:
    def report(done: int, total: int) -> None:
        progress(begin * total + share * done, whole * total)

    return report

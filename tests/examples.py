"""How long a run is, and how many cases a test draws that has as many as one likes."""

import os
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")

IS_LONG = os.environ.get("PROOF") == "long"


def some_of(cases: int) -> int:
    """A third of them in each run, all of them with PROOF=long."""
    return cases if IS_LONG else max(cases // 3, 1)


def third_of(cases: Sequence[T]) -> Sequence[T]:
    """Of cases that are listed, every third in each run; all with PROOF=long."""
    return cases if IS_LONG else cases[::3]

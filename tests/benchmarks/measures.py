"""One line of the table of benchmarks, and how it is judged."""

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter
from typing import Literal

import numpy as np

Judged = Literal["ratio", "growth", "ours"]


@dataclass(frozen=True)
class Measure:
    """What was measured beside its anchor, in the same run and with equal answers.

    `ratio` is ours over the anchor, `growth` ours over what a ten times smaller group took. `goal` bounds what `judged` names:
    from above, or from below where `at_least` says so.
    """

    what: str
    unit: str
    ours: float
    goal: float
    judged: Judged
    anchor: float | None = None
    anchor_name: str = ""
    at_least: bool = False
    growth: float | None = None

    @property
    def ratio(self) -> float | None:
        return self.ours / self.anchor if self.anchor else None

    @property
    def met(self) -> bool | None:
        """None where what the goal bounds was not measured."""
        value = {"ratio": self.ratio, "growth": self.growth, "ours": self.ours}[self.judged]
        if value is None:
            return None
        return value >= self.goal if self.at_least else value <= self.goal


def milliseconds(call: Callable[[], object]) -> float:
    began = perf_counter()
    call()
    return (perf_counter() - began) * 1000


def percentile(times: list[float], percent: float) -> float:
    return float(np.percentile(times, percent))

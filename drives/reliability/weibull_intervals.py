"""Ends of the profile-likelihood intervals around the maximum of a Weibull likelihood.

At an end the log-likelihood has dropped by half a quantile of chi-square, and rises no further along the other parameter. Newton
steps go for both at once, in logarithms (Venzon and Moolgavkar, Applied Statistics 37, 1988; from memory). As the superlevel
sets are convex in (a, b), there is one such point to each side. Where the steps do not arrive, the profile itself is
climbed to at one height after another.
"""

import math
from collections.abc import Callable
from functools import cache

import numpy as np
from scipy import optimize

from drives.reliability.weibull_likelihood import Maximum, WeibullLikelihood

Interval = tuple[float, float]

# Shapes and scales beyond these, in logarithms from the estimate, are given as 0 or infinity.
FARTHEST_LOG = 600.0
MOST_STEPS, LONGEST_STEP = 50, 1.0
# The error squares with each step: after one that is shorter than this, the next would change no digit.
LAST_STEP = 1e-8


class ProfileIntervals:
    """`drop` is that of the log-likelihood from its maximum; `errors` are the standard errors of the logarithms of shape and scale."""

    def __init__(self, likelihood: WeibullLikelihood, maximum: Maximum, *, drop: float) -> None:
        a, self.shape = maximum.point.tolist()
        self.likelihood, self.log_scale = likelihood, -a / self.shape
        turn = np.array([[0.0, 1 / self.shape], [-1 / self.shape, a / self.shape**2]])
        self._covariance = turn @ np.linalg.inv(-maximum.derivatives.curvature) @ turn.T
        self.errors: list[float] = np.sqrt(self._covariance.diagonal()).tolist()
        self._drop, self._floor = drop, maximum.derivatives.value - drop

    def of_shape(self) -> Interval:
        def excess(offset: float) -> float:
            shape = self.shape * math.exp(offset)
            start = -shape * self.log_scale
            return self._floor - self.likelihood.highest_at_shape(shape, start=start)[0]

        low, high = (self._end(0, side) or _crossing(excess, side * self.errors[0]) for side in (-1, 1))
        return self.shape * _exp(low), self.shape * _exp(high)

    def of_scale_hours(self) -> Interval:
        warm = self.shape

        def excess(offset: float) -> float:
            nonlocal warm
            height, warm = self.likelihood.highest_at_scale(
                self.log_scale + offset, starts=(warm, self.shape)
            )
            return self._floor - height

        ends = []
        for side in (-1, 1):
            warm = self.shape
            ends.append(self._end(1, side) or _crossing(excess, side * self.errors[1]))
        scale = self.likelihood.unit_hours * math.exp(self.log_scale)
        return scale * _exp(ends[0]), scale * _exp(ends[1])

    def _end(self, place: int, side: int) -> float | None:
        """How far from the estimate one logarithm ends; None where the steps do not arrive."""
        begin, other = np.array([math.log(self.shape), self.log_scale]), 1 - place
        point = begin + side * math.sqrt(2 * self._drop) / self.errors[place] * self._covariance[place]
        for _ in range(MOST_STEPS):
            if not np.abs(point - begin).max() < FARTHEST_LOG:
                break
            here = self.likelihood.at_logs(point)
            (rise, slope), curvature = here.gradient[[place, other]].tolist(), here.curvature.tolist()
            across, bend, missing = curvature[0][1], curvature[other][other], self._floor - here.value
            determinant = rise * bend - slope * across
            if not (bend < 0 and abs(determinant) > 0):
                break
            step = np.empty(2)
            step[place] = (missing * bend + slope * slope) / determinant
            step[other] = -(rise * slope + missing * across) / determinant
            longest = float(np.abs(step).max())
            point = point + step * (LONGEST_STEP / max(longest, LONGEST_STEP))
            if longest < LAST_STEP:
                offset = float(point[place] - begin[place])
                return offset if side * offset > 0 else None
        return None


def _exp(offset: float) -> float:
    return math.exp(offset) if abs(offset) < FARTHEST_LOG else (0.0 if offset < 0 else math.inf)


def _crossing(excess: Callable[[float], float], step: float) -> float:
    """Where the drop from the maximum is that of the interval; infinite where it never is."""
    # Each height is climbed to once: where the top is flat to the last digit, a second climb may end elsewhere.
    drop_at = cache(excess)
    near, far = 0.0, 2 * step
    if drop_at(near) >= 0:
        return near
    while drop_at(far) < 0:
        near, far = far, 2 * far
        if abs(far) > FARTHEST_LOG:
            return math.copysign(math.inf, step)
    root: float = optimize.brentq(drop_at, near, far, xtol=1e-13, rtol=1e-13)
    return root

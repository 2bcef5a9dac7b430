"""Log-likelihood of a Weibull distribution over bounded lifetimes, and its maximum.

With z = a + b ln t, where b is the shape and exp(-a/b) the scale, every term (exact, right-censored, between two
inspections) is concave in (a, b) together, as the density of z is log-concave (Burridge, Journal of the Royal Statistical
Society B 43, 1981; from memory). Damped Newton steps therefore find the one maximum from anywhere.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from drives.reliability.lifetimes import Lifetimes
from inventory.array_checks import FloatArray

MOST_STEPS = 200
# The square of Newton's decrement, twice what a step still gains. Below this, convergence is quadratic and gains are lost in
# the last digits of the likelihood, so that the last steps are taken without a comparison.
NEAR_GAIN = 1e-7
LAST_STEPS = 3
# Stands for the logarithm of zero hours: its power is 0 for every shape that occurs, and its square is still a double.
LOG_OF_ZERO = -1e100
# Powers stop here: with weights and squared logarithms they still fit a double.
LARGEST_EXPONENT = 600.0
# Below this ln(1 - exp(-x)) is ln x - x/2 to the last digit.
SMALL_GAP = 1e-8

Terms = tuple[float, ...]
"""A value, its derivatives by two numbers, and the second ones: by the first twice, by both, by the second twice."""
NOTHING: Terms = (0.0,) * 6


@dataclass(frozen=True, eq=False)
class Derivatives:
    """Value, gradient and matrix of second derivatives at one point."""

    value: float
    gradient: FloatArray
    curvature: FloatArray


@dataclass(frozen=True, eq=False)
class Maximum:
    """Where the steps ended. If not `is_reached`, they still rose, or stood where no step gains."""

    point: FloatArray
    derivatives: Derivatives
    is_reached: bool


@dataclass(frozen=True, eq=False)
class WeibullLikelihood:
    """Lifetimes sorted by kind: logarithms of hours over `unit_hours`, and weights."""

    unit_hours: float
    exact: FloatArray
    exact_weights: FloatArray
    survived: FloatArray
    survived_weights: FloatArray
    after: FloatArray
    before: FloatArray
    between_weights: FloatArray

    @classmethod
    def of(cls, lifetimes: Lifetimes) -> "WeibullLikelihood":
        """Lifetimes censored at 0 hours say nothing and are left out."""
        lower, upper, weights = lifetimes.lower_hours, lifetimes.upper_hours, lifetimes.weights
        finite = np.concatenate((lower, upper[np.isfinite(upper)]))
        unit = float(finite.max())
        exact, between = lifetimes.is_exact, lifetimes.is_observed & ~lifetimes.is_exact
        running = ~lifetimes.is_observed & (lower > 0)
        with np.errstate(divide="ignore"):
            low, high = np.log(lower / unit), np.log(upper / unit)
        low = np.maximum(low, LOG_OF_ZERO)
        reached = running | exact | between
        until = (low[exact], weights[exact], low[reached], weights[reached])
        return cls(unit, *until, low[between], high[between], weights[between])

    def at(self, point: FloatArray) -> Derivatives:
        """Log-likelihood in units of hours, with its derivatives by (a, b)."""
        return _derivatives(self._terms(*point.tolist()))

    def at_logs(self, point: FloatArray) -> Derivatives:
        """The same by the logarithms of shape and of scale over `unit_hours`."""
        log_shape, log_scale = point.tolist()
        b = math.exp(log_shape)
        a = -b * log_scale
        value, by_a, by_b, aa, ab, bb = self._terms(a, b)
        along = a * by_a + b * by_b
        bend = a * a * aa + 2 * a * b * ab + b * b * bb + along
        return _derivatives((value, along, -b * by_a, bend, -b * (a * aa + b * ab + by_a), b * b * aa))

    def _terms(self, a: float, b: float) -> Terms:
        terms = (self._survived(a, b), self._exact(a, b), self._between(a, b))
        return tuple(sum(one) for one in zip(*terms, strict=True))

    def _survived(self, a: float, b: float) -> Terms:
        """Minus the cumulative hazard; for a failure between two inspections, until the first."""
        mass = self.survived_weights * _power(a + b * self.survived)
        first = mass * self.survived
        total, cross, square = float(mass.sum()), float(first.sum()), float((first * self.survived).sum())
        return -total, -total, -cross, -total, -cross, -square

    def _exact(self, a: float, b: float) -> Terms:
        """Logarithm of the hazard, b t^b / scale^b / t."""
        count, logs = self._exact_sums
        if not count:
            return NOTHING
        value = count * (np.log(b) + a - math.log(self.unit_hours)) + (b - 1) * logs
        return float(value), count, count / b + logs, 0.0, 0.0, -count / b**2

    @cached_property
    def _exact_sums(self) -> tuple[float, float]:
        return float(self.exact_weights.sum()), float(np.dot(self.exact_weights, self.exact))

    def _between(self, a: float, b: float) -> Terms:
        """Logarithm of the probability to fail before the second inspection, having passed the first."""
        w, y1, y2 = self.between_weights, self.after, self.before
        if not w.size:
            return NOTHING
        z2, passed = a + b * y2, np.exp(-b * (y2 - y1))
        share = -np.expm1(-b * (y2 - y1))
        gap = _power(z2) * share
        # Everything is taken relative to the gap, so that it stays finite where the gap is lost to a double.
        by_b, by_bb = (y2 - y1 * passed) / share, (y2**2 - y1**2 * passed) / share
        q = np.where(gap > 0, gap / np.expm1(np.clip(gap, 1e-300, LARGEST_EXPONENT)), 1.0)
        bend = gap + q
        with np.errstate(divide="ignore"):
            value = np.where(gap > SMALL_GAP, np.log(-np.expm1(-gap)), z2 + np.log(share) - gap / 2)
        every = (value, q, q * by_b, q * (1 - bend), q * (1 - bend) * by_b, q * (by_bb - bend * by_b**2))
        return tuple(float(np.dot(w, one)) for one in every)

    def maximum(self, start: FloatArray) -> Maximum | None:
        """The point (a, b) of the greatest likelihood, or None where the steps find none."""
        found = _climb(self.at, start, shape_of=lambda point: float(point[1]))
        return found if found.is_reached else None

    def highest_at_shape(self, shape: float, *, start: float) -> tuple[float, float]:
        """Greatest log-likelihood with this shape, and its a."""
        maximum = _climb(
            lambda x: _along(self.at(np.array([x[0], shape])), np.array([1.0, 0.0])),
            np.array([start]),
            shape_of=lambda x: 1.0,
        )
        return maximum.derivatives.value, float(maximum.point[0])

    def highest_at_scale(self, log_scale: float, *, starts: tuple[float, ...]) -> tuple[float, float]:
        """Greatest log-likelihood with this logarithm of scale over `unit_hours`, and its shape.

        The first start from which the steps arrive decides, else the highest point that any of them reached.
        """
        direction = np.array([-log_scale, 1.0])
        found = []
        for start in starts:
            maximum = _climb(
                lambda x: _along(self.at(x[0] * direction), direction),
                np.array([start]),
                shape_of=lambda x: float(x[0]),
            )
            found.append((maximum.derivatives.value, float(maximum.point[0])))
            if maximum.is_reached:
                return found[-1]
        return max(found)


def _derivatives(terms: Terms) -> Derivatives:
    value, first, second, first_first, first_second, second_second = terms
    curvature = [[first_first, first_second], [first_second, second_second]]
    return Derivatives(value, np.array([first, second]), np.array(curvature))


def _power(z: FloatArray) -> FloatArray:
    return np.asarray(np.exp(np.minimum(z, LARGEST_EXPONENT)))


def _along(slopes: Derivatives, direction: FloatArray) -> Derivatives:
    return Derivatives(
        slopes.value,
        np.array([slopes.gradient @ direction]),
        np.array([[direction @ slopes.curvature @ direction]]),
    )


def _climb(
    derivatives_at: Callable[[FloatArray], Derivatives],
    start: FloatArray,
    *,
    shape_of: Callable[[FloatArray], float],
) -> Maximum:
    """Newton steps, halved until they gain and keep the shape above a quarter of what it was."""
    point, here = start, derivatives_at(start)
    unchecked = 0
    for _ in range(MOST_STEPS):
        step, gain = _newton_step(here)
        if not np.isfinite(gain) or gain < -NEAR_GAIN:
            break
        if gain < NEAR_GAIN:
            if unchecked == LAST_STEPS:
                return Maximum(point, here, is_reached=True)
            unchecked += 1
            point = point + step
            here = derivatives_at(point)
            continue
        following = _farthest_gain(derivatives_at, point, here=here, step=step, shape_of=shape_of)
        if following is None:
            break
        point, here = following
    return Maximum(point, here, is_reached=False)


def _newton_step(here: Derivatives) -> tuple[FloatArray, float]:
    try:
        step = np.asarray(np.linalg.solve(-here.curvature, here.gradient), dtype=np.float64)
    except np.linalg.LinAlgError:
        return np.zeros_like(here.gradient), np.nan
    return step, float(here.gradient @ step)


def _farthest_gain(
    derivatives_at: Callable[[FloatArray], Derivatives],
    point: FloatArray,
    *,
    here: Derivatives,
    step: FloatArray,
    shape_of: Callable[[FloatArray], float],
) -> tuple[FloatArray, Derivatives] | None:
    share = 1.0
    for _ in range(60):
        there = point + share * step
        if shape_of(there) > shape_of(point) / 4:
            slopes = derivatives_at(there)
            if slopes.value >= here.value:
                return there, slopes
        share /= 2
    return None

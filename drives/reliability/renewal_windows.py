"""Renewals in a window that begins later, when today's ages are no longer known, and the window that sees most of them.

Time runs in equal steps, and half of the mass of a step lies on each side of it. After step k the next renewal of a unit comes
x steps later with the mass first(k + x) + sum over v <= k of m(v) f(k - v + x): m is the mass of its renewals so far, f that of
a new life. In the long run the next renewal has the density survival over mean life. Source: delayed and equilibrium renewal
processes, Cox, Renewal Theory, 1962. The law of lives is one of several, each with its chance: what a fit leaves open.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial, reduce

import numpy as np
import numpy.typing as npt
from scipy import fft

from drives.reliability.count_distribution import add_up
from drives.reliability.discretised_renewals import step_masses
from drives.reliability.renewal_process import MOST_RENEWALS
from drives.reliability.weibull import mean_life_hours
from inventory.array_checks import FloatArray

FEWEST_STEPS, MOST_STEPS = 1 << 10, 1 << 14
STEPS_TO_A_WIDTH = 12
"""Steps to the steep part of the distribution of a life, scale over shape: own rule, held by the tests."""
FEWEST_STEPS_TO_A_LIFE = 4
LOST_CHANCE = 1e-12
"""Chances below this are lost in the rounding of a transform."""
EQUAL = 1e-9


@dataclass(frozen=True)
class AgingUnits:
    """Units with one Weibull law of lives; ages and scale in days of calendar."""

    ages_days: tuple[float, ...]
    shape: float
    scale_days: float


@dataclass(frozen=True, eq=False)
class UnitRenewals:
    """Of some units, on equal steps from now."""

    first: FloatArray
    """Mass of the first renewal, a row for each unit."""
    fresh: FloatArray
    """Mass of the end of a new life."""
    within: FloatArray
    """Chance that 0, 1, 2, … new lives in a row end within so many steps, a row for each number."""
    renewals: FloatArray
    """Expected renewals at each step, a row for each unit."""
    mean_life_steps: float

    def next_after(self, start: int | None) -> FloatArray:
        """Mass of the next renewal after a step; None is the long run."""
        if start is None:
            return self._in_equilibrium()
        if start == 0:
            return self.first
        so_far = self.renewals[:, : start + 1].copy()
        so_far[:, -1] /= 2
        found = self.first[:, start:] + _convolved(so_far, self.fresh, self.first.shape[1])[:, start:]
        found[:, 0] = self.renewals[:, start] / 2
        return np.asarray(found)

    def chances(self, start: int | None, steps: float) -> FloatArray:
        """Chances of 0, 1, 2, … renewals in a window of so many steps, a row for each unit."""
        following, whole = self.next_after(start), math.floor(steps)
        low, high = (following[:, : end + 1] @ self.within[:, end::-1].T for end in (whole, whole + 1))
        at_least = np.clip(low + (steps - whole) * (high - low), 0.0, 1.0)
        table = np.pad(at_least, ((0, 0), (1, 1)))
        table[:, 0] = 1.0
        return np.asarray(-np.diff(np.minimum.accumulate(table, axis=1), axis=1))

    def _in_equilibrium(self) -> FloatArray:
        surviving = np.maximum(1 - np.cumsum(self.fresh), 0.0)
        mass = (surviving + np.append(0.0, surviving[:-1])) / 2 / self.mean_life_steps
        return np.tile(mass, (len(self.first), 1))


@dataclass(frozen=True, eq=False)
class RenewalWindows:
    """Renewals of all units together, in windows that begin within a horizon."""

    laws: tuple[tuple[float, tuple[UnitRenewals, ...]], ...]
    """Chance of a law of lives, and the groups of units under it."""
    steps: int
    step_days: float
    horizon_days: float

    @cached_property
    def expected(self) -> FloatArray:
        """Expected renewals until each step."""
        at_step = np.zeros(self.steps + 1)
        for weight, groups in self.laws:
            for one in groups:
                at_step += weight * one.renewals.sum(axis=0)
        return np.asarray(np.cumsum(at_step) - at_step / 2)

    @cached_property
    def per_day_in_the_long_run(self) -> float:
        rates = [
            weight * len(one.first) / one.mean_life_steps for weight, groups in self.laws for one in groups
        ]
        return float(sum(rates)) / self.step_days

    def expected_within(self, days: float, start: int = 0) -> float:
        """Expected renewals in a window of so many days."""
        return float(self._gains(days, np.array([start]))[0])

    def busiest(self, days: float) -> int:
        """The step within the horizon after which a window of so many days expects most renewals, the earliest of equals."""
        gains = self._gains(days, np.arange(int(self.horizon_days / self.step_days) + 1))
        return int(np.argmax(gains >= gains.max() * (1 - EQUAL)))

    def _gains(self, days: float, starts: npt.NDArray[np.int64]) -> FloatArray:
        ends = np.interp(starts + days / self.step_days, np.arange(self.steps + 1), self.expected)
        return np.asarray(ends - self.expected[starts])

    def chances(self, start: int | None, days: float) -> FloatArray:
        """Chances of 0, 1, 2, … renewals of all units in a window; None is the long run."""
        steps = days / self.step_days
        found = [
            (weight, reduce(np.convolve, [_of_all(one.chances(start, steps)) for one in groups], np.ones(1)))
            for weight, groups in self.laws
        ]
        return mixture(found)

    def chances_of_each(self, start: int | None, days: float) -> list[tuple[float, FloatArray]]:
        """Of one group of units: the chance of each law with the chances of 0, 1, 2, … renewals under it, a row for each unit."""
        return [(weight, one.chances(start, days / self.step_days)) for weight, (one,) in self.laws]


def mixture(parts: Sequence[tuple[float, FloatArray]]) -> FloatArray:
    """Chances of 0, 1, 2, … under several laws, each with its weight."""
    chances = np.zeros(max(len(part) for _, part in parts))
    for weight, part in parts:
        chances[: len(part)] += weight * part
    return chances


def renewal_windows(
    laws: Sequence[tuple[float, Sequence[AgingUnits]]], *, horizon_days: float, longest_days: float
) -> RenewalWindows:
    """For windows of at most `longest_days`; the chances of the laws add up to 1, each law has the same groups of units."""
    reach = horizon_days + longest_days
    groups = [one for _, groups in laws for one in groups]
    narrowest = min((one.scale_days / max(1.0, one.shape) for one in groups), default=math.inf)
    steps = min(max(math.ceil(reach / narrowest * STEPS_TO_A_WIDTH), FEWEST_STEPS), MOST_STEPS)
    step = reach / (steps - 1)
    lives = (mean_life_hours(one.shape, scale_hours=one.scale_days) for one in groups)
    shortest = min(lives, default=math.inf)
    if shortest < FEWEST_STEPS_TO_A_LIFE * step:
        raise ValueError(
            f"`horizon_days` and the lead time must be shorter: {reach:,.0f} days are {reach / shortest:,.0f} lives of a unit,"
            " too many renewals to follow"
        )
    found = tuple((weight, tuple(_on_steps(one, step, steps) for one in some)) for weight, some in laws)
    return RenewalWindows(found, steps, step, horizon_days)


def _on_steps(units: AgingUnits, step: float, steps: int) -> UnitRenewals:
    masses = partial(step_masses, reach=steps * step / units.scale_days, shape=units.shape, steps=steps)
    fresh, first = masses(np.zeros(1))[0], masses(np.array(units.ages_days) / units.scale_days)
    within, sums = _lives_in_a_row(fresh)
    mean = mean_life_hours(units.shape, scale_hours=units.scale_days) / step
    return UnitRenewals(first, fresh, within, _convolved(first, sums, steps + 1), mean)


def _lives_in_a_row(fresh: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Chance that n lives end within so many steps, and the expected number of lives that end at each."""
    masses = np.zeros_like(fresh)
    masses[0] = 1.0
    within, sums = [np.append(0.5, np.ones(len(fresh) - 1))], masses.copy()
    while len(within) < MOST_RENEWALS:
        masses = _convolved(masses[None, :], fresh, len(fresh))[0]
        if masses.sum() < LOST_CHANCE:
            break
        sums += masses
        within.append(np.cumsum(masses) - masses / 2)
    return np.array(within), sums


def _convolved(rows: FloatArray, other: FloatArray, length: int) -> FloatArray:
    size = fft.next_fast_len(rows.shape[1] + len(other) - 1, real=True)
    product = fft.irfft(fft.rfft(rows, size, axis=1) * fft.rfft(other, size), size, axis=1)
    return np.asarray(np.maximum(product[:, :length], 0.0))


def _of_all(tables: FloatArray) -> FloatArray:
    return add_up(tables, units=np.ones(len(tables), dtype=np.int64)).chances

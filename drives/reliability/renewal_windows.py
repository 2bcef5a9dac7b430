"""Renewals in a window that begins later, when today's ages are no longer known, and the window that sees most of them.

Time runs in equal steps, and half of the mass of a step lies on each side of it. After step k the next renewal of a unit comes
x steps later with the mass first(k + x) + sum over v <= k of m(v) f(k - v + x): m is the mass of its renewals so far, f that of
a new life. In the long run the next renewal has the density survival over mean life. Source: delayed and equilibrium renewal
processes, Cox, Renewal Theory, 1962. The law of lives is one of several, each with its chance: what a fit leaves open.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce

import numpy as np
import numpy.typing as npt
from scipy import fft

from drives.reliability.count_distribution import add_up_rows
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
ENTRIES_AT_ONCE = 1 << 13
"""Of the steps of several laws that are transformed together."""


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
    in_a_row: FloatArray
    """Mass of the end of the last of 0, 1, 2, … new lives in a row, a row for each number."""
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

    def chances(self, start: int | None, windows: Sequence[float]) -> list[FloatArray]:
        """Chances of 0, 1, 2, … renewals in each window of so many steps, a row for each unit."""
        following = self.next_after(start)
        until = np.cumsum(following, axis=1) - following / 2
        return [self._within(until, steps) for steps in windows]

    def _within(self, until: FloatArray, steps: float) -> FloatArray:
        """`until` is the chance of the next renewal within so many steps."""
        whole = math.floor(steps)
        low, high = (until[:, end::-1] @ self.in_a_row[:, : end + 1].T for end in (whole, whole + 1))
        table = np.zeros((len(until), len(self.in_a_row) + 2))
        table[:, 0], table[:, 1:-1] = 1.0, np.clip(low + (steps - whole) * (high - low), 0.0, 1.0)
        table = np.minimum.accumulate(table, axis=1)
        return np.asarray(table[:, :-1] - table[:, 1:])

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
        return self.chances_over(start, [days])[0]

    def chances_over(self, start: int | None, days: Sequence[float]) -> list[FloatArray]:
        """The same for windows of so many days each, which begin together."""
        steps = [one / self.step_days for one in days]
        found = [(weight, [one.chances(start, steps) for one in groups]) for weight, groups in self.laws]
        return [
            mixture(
                [
                    (
                        weight,
                        reduce(np.convolve, [add_up_rows(tables[place]) for tables in groups], np.ones(1)),
                    )
                    for weight, groups in found
                ]
            )
            for place in range(len(steps))
        ]

    def chances_of_each(self, start: int | None, days: float) -> list[tuple[float, FloatArray]]:
        """Of one group of units: the chance of each law with the chances of 0, 1, 2, … renewals under it, a row for each unit."""
        return [(weight, one.chances(start, [days / self.step_days])[0]) for weight, (one,) in self.laws]


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
    renewals = iter(_on_steps(groups, step, steps))
    found = tuple((weight, tuple(next(renewals) for _ in some)) for weight, some in laws)
    return RenewalWindows(found, steps, step, horizon_days)


def _on_steps(groups: Sequence[AgingUnits], step: float, steps: int) -> Iterator[UnitRenewals]:
    """A few groups at a time, so that what is transformed together stays in the cache of a processor."""
    at_once = max(1, ENTRIES_AT_ONCE // steps)
    for begin in range(0, len(groups), at_once):
        some = groups[begin : begin + at_once]
        masses = [_masses(one, step, steps) for one in some]
        in_a_row, sums = _lives_in_a_row(np.array([mass[0] for mass in masses]))
        for units, mass, lives, expected in zip(some, masses, in_a_row, sums, strict=True):
            mean = mean_life_hours(units.shape, scale_hours=units.scale_days) / step
            renewals = _convolved(mass[1:], expected, steps + 1)
            yield UnitRenewals(mass[1:], mass[0], lives, renewals, mean)


def _masses(units: AgingUnits, step: float, steps: int) -> FloatArray:
    """Of the end of a new life in the first row, below it of each unit."""
    ages = np.append(0.0, units.ages_days) / units.scale_days
    return step_masses(ages, reach=steps * step / units.scale_days, shape=units.shape, steps=steps)


def _lives_in_a_row(fresh: FloatArray) -> tuple[list[FloatArray], FloatArray]:
    """Masses of the ends of so many lives, and their sum: the expected number of lives that end at each step."""
    size = fft.next_fast_len(2 * fresh.shape[1] - 1, real=True)
    none = np.zeros_like(fresh)
    none[:, 0] = 1.0
    found, sums = [[row] for row in none], none.copy()
    masses, law, going = fresh, fft.rfft(fresh, size), np.arange(len(fresh))
    for _ in range(1, MOST_RENEWALS):
        likely = masses.sum(axis=1) >= LOST_CHANCE
        if not likely.all():
            masses, law, going = masses[likely], law[likely], going[likely]
        if not going.size:
            break
        sums[going] += masses
        for row, mass in zip(going.tolist(), masses, strict=True):
            found[row].append(mass)
        masses = np.maximum(fft.irfft(fft.rfft(masses, size) * law, size)[:, : fresh.shape[1]], 0.0)
    return [np.array(rows) for rows in found], sums


def _convolved(rows: FloatArray, other: FloatArray, length: int) -> FloatArray:
    size = fft.next_fast_len(rows.shape[1] + len(other) - 1, real=True)
    product = fft.irfft(fft.rfft(rows, size) * fft.rfft(other, size), size)
    return np.asarray(np.maximum(product[:, :length], 0.0))

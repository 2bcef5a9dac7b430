"""Renewals in a window that begins later, when today's ages are no longer known, and the window that sees most of them.

Time runs in equal steps, and half of the mass of a step lies on each side of it. After step k the next renewal of a unit comes
x steps later with the mass first(k + x) + sum over v <= k of m(v) f(k - v + x): m is the mass of its renewals so far, f that of
a new life. In the long run the next renewal has the density survival over mean life. Source: delayed and equilibrium renewal
processes, Cox, Renewal Theory, 1962. The law of lives is one of several, each with its chance: what a fit leaves open.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

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
ENTRIES_AT_ONCE = 1 << 15
"""That are transformed together."""


@dataclass(frozen=True)
class AgingUnits:
    """Units with one Weibull law of lives; ages and scale in days of calendar."""

    ages_days: tuple[float, ...]
    shape: float
    scale_days: float


@dataclass(frozen=True, eq=False)
class UnitRenewals:
    """Of some units, on equal steps from now. The first axis of every array is the law of their lives, the last one the steps."""

    first: FloatArray
    """Mass of the first renewal, a row for each unit."""
    fresh: FloatArray
    """Mass of the end of a new life."""
    in_a_row: FloatArray
    """Mass of the end of the last of 0, 1, 2, … new lives in a row, a row for each number."""
    mean_life_steps: FloatArray

    @cached_property
    def renewals(self) -> FloatArray:
        """Expected renewals at each step, a row for each unit; a window that begins now needs none."""
        return _convolved(self.first, self.in_a_row.sum(axis=1), self.first.shape[2])

    def next_after(self, start: int | None) -> FloatArray:
        """Mass of the next renewal after a step; None is the long run."""
        if start is None:
            return self._in_equilibrium()
        if start == 0:
            return self.first
        so_far = self.renewals[..., : start + 1].copy()
        so_far[..., -1] /= 2
        found = self.first[..., start:] + _convolved(so_far, self.fresh, self.fresh.shape[1])[..., start:]
        found[..., 0] = self.renewals[..., start] / 2
        return np.asarray(found)

    def chances(self, start: int | None, windows: Sequence[float]) -> list[FloatArray]:
        """Chances of 0, 1, 2, … renewals in each window of so many steps, for each law a row for each unit."""
        following = self.next_after(start)
        until = np.cumsum(following, axis=-1) - following / 2
        return [self._within(until, steps) for steps in windows]

    def _within(self, until: FloatArray, steps: float) -> FloatArray:
        """`until` is the chance of the next renewal within so many steps."""
        whole = math.floor(steps)
        low, high = (
            until[..., end::-1].copy() @ self.in_a_row[..., : end + 1].swapaxes(1, 2)
            for end in (whole, whole + 1)
        )
        table = np.zeros((*until.shape[:2], self.in_a_row.shape[1] + 2))
        table[..., 0], table[..., 1:-1] = 1.0, np.clip(low + (steps - whole) * (high - low), 0.0, 1.0)
        table = np.minimum.accumulate(table, axis=-1)
        return np.asarray(table[..., :-1] - table[..., 1:])

    def _in_equilibrium(self) -> FloatArray:
        surviving = np.maximum(1 - np.cumsum(self.fresh, axis=1), 0.0)
        mass = (surviving + np.pad(surviving, ((0, 0), (1, 0)))[:, :-1]) / 2 / self.mean_life_steps[:, None]
        return np.repeat(mass[:, None], self.first.shape[1], axis=1)


@dataclass(frozen=True, eq=False)
class RenewalWindows:
    """Renewals of all units together, in windows that begin within a horizon."""

    weights: FloatArray
    """Chances of the laws of lives."""
    groups: tuple[UnitRenewals, ...]
    steps: int
    step_days: float
    horizon_days: float

    @cached_property
    def expected(self) -> FloatArray:
        """Expected renewals until each step."""
        at_step = np.zeros(self.steps + 1)
        for one in self.groups:
            at_step += self.weights @ one.renewals.sum(axis=1)
        return np.asarray(np.cumsum(at_step) - at_step / 2)

    @cached_property
    def per_day_in_the_long_run(self) -> float:
        rates: list[float] = [
            one.first.shape[1] * float((self.weights / one.mean_life_steps).sum()) for one in self.groups
        ]
        return sum(rates) / self.step_days

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
        if not self.groups:
            return [np.ones(1) for _ in days]
        windows = [one / self.step_days for one in days]
        every = zip(*(one.chances(start, windows) for one in self.groups), strict=True)
        return [self.weights @ add_up_rows([table.swapaxes(0, 1) for table in tables]) for tables in every]

    def chances_of_each(self, start: int | None, days: float) -> list[tuple[float, FloatArray]]:
        """Of one group of units: the chance of each law with the chances of 0, 1, 2, … renewals under it, a row for each unit."""
        (one,) = self.groups
        (tables,) = one.chances(start, [days / self.step_days])
        return list(zip(self.weights.tolist(), tables, strict=True))


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
    weights = np.array([weight for weight, _ in laws])
    found = tuple(_on_steps(one, step, steps) for one in zip(*(some for _, some in laws), strict=True))
    return RenewalWindows(weights, found, steps, step, horizon_days)


def _on_steps(by_law: Sequence[AgingUnits], step: float, steps: int) -> UnitRenewals:
    """Of one group of units, under each law."""
    masses = np.array([_masses(one, step, steps) for one in by_law])
    fresh, first = masses[:, 0], masses[:, 1:]
    in_a_row = _lives_in_a_row(fresh)
    mean = [mean_life_hours(one.shape, scale_hours=one.scale_days) / step for one in by_law]
    return UnitRenewals(first, fresh, in_a_row, np.array(mean))


def _masses(units: AgingUnits, step: float, steps: int) -> FloatArray:
    """Of the end of a new life in the first row, below it of each unit."""
    ages = np.append(0.0, units.ages_days) / units.scale_days
    return step_masses(ages, reach=steps * step / units.scale_days, shape=units.shape, steps=steps)


def _lives_in_a_row(fresh: FloatArray) -> FloatArray:
    """Mass of the end of the last of 0, 1, 2, … lives, until none is likely to end within the steps; for each law."""
    laws, width = fresh.shape
    size = fft.next_fast_len(2 * width - 1, real=True)
    none = np.eye(1, width)[0]
    found = [[none] for _ in fresh]
    for part in _parts(laws, size):
        masses, law, going = fresh[part], fft.rfft(fresh[part], size), np.arange(laws)[part]
        for _ in range(1, MOST_RENEWALS):
            likely = masses.sum(axis=1) >= LOST_CHANCE
            if not likely.all():
                masses, law, going = masses[likely], law[likely], going[likely]
            if not going.size:
                break
            for place, mass in zip(going.tolist(), masses, strict=True):
                found[place].append(mass)
            masses = np.maximum(fft.irfft(fft.rfft(masses, size) * law, size)[:, :width], 0.0)
    in_a_row = np.zeros((laws, max(map(len, found)), width))
    for place, rows in enumerate(found):
        in_a_row[place, : len(rows)] = rows
    return in_a_row


def _convolved(rows: FloatArray, other: FloatArray, length: int) -> FloatArray:
    """Of each law, every row with the other."""
    size = fft.next_fast_len(rows.shape[2] + other.shape[1] - 1, real=True)
    found = np.empty((*rows.shape[:2], length))
    for part in _parts(len(rows), rows.shape[1] * size):
        product = fft.irfft(fft.rfft(rows[part], size) * fft.rfft(other[part], size)[:, None], size)
        np.maximum(product[..., :length], 0.0, out=found[part])
    return found


def _parts(laws: int, entries: int) -> Iterator[slice]:
    """As many laws at a time as stay in the cache of a processor, where each has so many entries."""
    at_once = max(1, ENTRIES_AT_ONCE // entries)
    return (slice(begin, begin + at_once) for begin in range(0, laws, at_once))

"""Lifetimes of parts: ended at a known hour, ended between two inspections, or not ended yet (censored)."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from inventory.array_checks import BoolArray, FloatArray, flags, number_list

LONGEST_HOURS = 1e7
"""Eleven centuries: no part runs longer, and every power of an accepted number stays in range."""

OBSERVED_ENDS = frozenset({"failure", "limit_reached"})
"""Ends that count as failures: a part worn to its limit has failed, though nothing broke. A part that was removed for any
other reason, or still runs, is censored (Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 2)."""

UNKNOWN_MECHANISM = "unknown"


@dataclass(frozen=True, eq=False)
class Lifetimes:
    """Bounds of lifetimes: each failure lies between `lower_hours` and `upper_hours`.

    Equal bounds are a failure at that hour. An infinite upper bound is right-censored, a lower bound of 0 left-censored
    (found failed at the first inspection); all else failed between two inspections. A row stands for `weights` equal
    lifetimes.
    """

    lower_hours: FloatArray
    upper_hours: FloatArray
    weights: FloatArray = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        lower = number_list("lower_hours", self.lower_hours, most=LONGEST_HOURS)
        upper = _upper_bounds(self.upper_hours, lower)
        weights = (
            np.ones(lower.size)
            if np.size(self.weights) == 0
            else number_list("weights", self.weights, most=LONGEST_HOURS)
        )
        if weights.size != lower.size:
            raise ValueError(
                f"`weights` must be {lower.size} numbers, one for each lifetime, not {weights.size}."
            )
        if (weights <= 0).any():
            raise ValueError("`weights` must all be more than 0.")
        for name, value in {"lower_hours": lower, "upper_hours": upper, "weights": weights}.items():
            value.setflags(write=False)
            object.__setattr__(self, name, value)

    def __len__(self) -> int:
        return int(self.lower_hours.size)

    @property
    def is_exact(self) -> BoolArray:
        """Failed at a known hour."""
        return np.asarray(self.lower_hours == self.upper_hours)

    @property
    def is_observed(self) -> BoolArray:
        """Failed, at a known hour or between two inspections."""
        return np.asarray(np.isfinite(self.upper_hours))

    @property
    def is_right_censored_only(self) -> bool:
        """Every lifetime ended at a known hour or is right-censored."""
        return bool(np.all(self.is_exact | ~self.is_observed))

    @property
    def failures(self) -> float:
        return float(self.weights[self.is_observed].sum())

    @property
    def suspensions(self) -> float:
        return float(self.weights[~self.is_observed].sum())

    @property
    def middle_hours(self) -> FloatArray:
        """Hours run; a failure between two inspections counts from the middle of them."""
        return np.where(self.is_observed, (self.lower_hours + self.upper_hours) / 2, self.lower_hours)

    @property
    def exposure_hours(self) -> float:
        """Total hours run."""
        return float(np.dot(self.weights, self.middle_hours))


def _upper_bounds(values: Any, lower: FloatArray) -> FloatArray:
    upper = np.array(values, dtype=np.float64)
    if upper.shape != lower.shape:
        raise ValueError(f"`upper_hours` must be {lower.size} numbers, one for each lifetime.")
    wrong = np.isnan(upper) | (upper < lower) | ((upper > LONGEST_HOURS) & np.isfinite(upper))
    if wrong.any():
        place = int(np.argmax(wrong))
        raise ValueError(
            f"`upper_hours[{place}]` must be from {lower[place]:g} (its lower bound) to {LONGEST_HOURS:g}, or infinite"
            f" where it has not ended, not {upper[place]:g}."
        )
    if (upper == 0).any():
        raise ValueError(f"`upper_hours[{int(np.argmax(upper == 0))}]` must be more than 0.")
    return upper


def right_censored(
    hours: npt.ArrayLike,
    *,
    observed: npt.ArrayLike,
    weights: npt.ArrayLike | None = None,
) -> Lifetimes:
    """Lifetimes from hours run, and whether each ended with a failure.

    >>> lifetimes = right_censored([1200, 3000], observed=[True, False])
    >>> lifetimes.failures, lifetimes.suspensions, lifetimes.exposure_hours
    (1.0, 1.0, 4200.0)
    """
    lower = number_list("hours", hours, most=LONGEST_HOURS)
    failed = flags("observed", observed, size=lower.size)
    at_zero = failed & (lower == 0)
    if at_zero.any():
        raise ValueError(
            f"`hours[{int(np.argmax(at_zero))}]` must be more than 0 where a failure was observed."
        )
    return Lifetimes(
        lower,
        np.where(failed, lower, np.inf),
        np.ones(lower.size) if weights is None else np.asarray(weights),
    )


@dataclass(frozen=True, slots=True)
class ReportedLifetime:
    """Hours or bounds as reported, why the part came off, and by which mechanism; `weight` such rows are alike."""

    lower_hours: float
    upper_hours: float
    ended_by: str | None = None
    mechanism: str | None = None
    weight: float = 1.0

    @property
    def is_observed(self) -> bool:
        return self.ended_by in OBSERVED_ENDS

    @property
    def mechanism_name(self) -> str:
        return self.mechanism or UNKNOWN_MECHANISM


def reported_lifetimes(rows: Sequence[ReportedLifetime], *, mechanism: str | None = None) -> Lifetimes:
    """Reported rows as lifetimes. With a mechanism, failures by any other are censored at their last good hour.

    Source: independent competing risks, Nelson, Applied Life Data Analysis, 1982, ch. 5.

    >>> rows = [ReportedLifetime(900, 900, "failure", "wear"), ReportedLifetime(0, 400, "failure", "overload")]
    >>> reported_lifetimes(rows).failures, reported_lifetimes(rows, mechanism="wear").upper_hours.tolist()
    (2.0, [900.0, inf])
    """
    failed = [row.is_observed and mechanism in (None, row.mechanism_name) for row in rows]
    return Lifetimes(
        np.array([row.lower_hours for row in rows], dtype=np.float64),
        np.array(
            [row.upper_hours if ended else math.inf for row, ended in zip(rows, failed, strict=True)],
            dtype=np.float64,
        ),
        np.array([row.weight for row in rows], dtype=np.float64),
    )


def lifetimes_by_mechanism(rows: Sequence[ReportedLifetime]) -> Mapping[str, Lifetimes]:
    """The same rows for each mechanism of a failure, in alphabetical order; empty where no failure names one."""
    failed = [row for row in rows if row.is_observed]
    if not any(row.mechanism for row in failed):
        return {}
    names = sorted({row.mechanism_name for row in failed})
    return {name: reported_lifetimes(rows, mechanism=name) for name in names}

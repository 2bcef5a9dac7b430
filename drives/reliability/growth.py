"""Renewals of one position over its running time: does it eat parts faster and faster?

A part that wears out says something of the part; a position whose renewals come ever closer says something of the drive:
a shaft out of line, a worn mate, a bad foundation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import special

from drives.reliability.lives import LONGEST_HOURS
from inventory.array_checks import number_list
from inventory.number_checks import fraction, positive

Trend = Literal["faster_and_faster", "slower_and_slower", "steady", "too_few"]

FEWEST_FOR_TREND = 3
"""Below this many renewals a trend is a guess, as with a shape."""


@dataclass(frozen=True)
class Growth:
    """Power law of the renewals: lambda t^beta expected by t hours. None where they fix none.

    `intensity_per_hour` is that at the end of the observation, `hours_between` its inverse. `trend` looks at the interval
    of beta: above 1 `faster_and_faster`, below 1 `slower_and_slower`.
    """

    renewals: int
    end_hours: float
    is_time_terminated: bool
    trend: Trend
    reason: str
    beta: float | None = None
    beta_unbiased: float | None = None
    beta_interval: tuple[float, float] | None = None
    rate_factor: float | None = None
    intensity_per_hour: float | None = None
    hours_between: float | None = None
    confidence: float = 0.95

    @property
    def is_getting_worse(self) -> bool:
        """The position eats parts faster and faster."""
        return self.trend == "faster_and_faster"


def fit_growth(hours: npt.ArrayLike, *, end_hours: float | None = None, confidence: float = 0.95) -> Growth:
    """Power law of the renewals of one position, and whether they come faster and faster.

    Parameters
    ----------
    hours : array_like of float
        Running hours of the position at each renewal [h], above 0 to 1e7, in any order.
    end_hours : float, optional
        Running hours at the end of observation [h], not before the last renewal. Where not given, the observation
        stopped with the last renewal.
    confidence : float
        Of the interval of beta [-], between 0 and 1.

    Returns
    -------
    Growth
        Beta, lambda (`rate_factor`), interval, trend and its reason. One renewal more than none is needed, two where the
        observation stopped with the last.

    Raises
    ------
    ValueError
        If a value is out of range, or a renewal lies after the end.

    Source
    ------
    Crow 1974; MIL-HDBK-189, 1981, app. C: beta = n / sum ln(T/t), lambda = n / T^beta; unbiased (n-1)/n, or (n-2)/n where
    stopped with the last; 2 n beta_true / beta is chi-square with 2n, or 2(n-1), degrees of freedom.

    Examples
    --------
    >>> growth = fit_growth([900, 1500, 1900, 2200, 2400, 2550, 2650, 2700], end_hours=2750)
    >>> round(growth.beta, 2), growth.trend
    (3.1, 'faster_and_faster')
    """
    times = np.sort(number_list("hours", hours, most=LONGEST_HOURS))
    if times.size and times[0] <= 0:
        raise ValueError("`hours` must all be more than 0: the position has run before it is renewed.")
    sure = fraction("confidence", confidence)
    is_time_terminated = end_hours is not None
    if end_hours is None and not times.size:
        raise ValueError("`end_hours` must be given where there are no renewals.")
    end = positive("end_hours", times[-1] if end_hours is None else end_hours, most=LONGEST_HOURS)
    if times.size and times[-1] > end:
        raise ValueError(f"`end_hours` must be {times[-1]:g} (the last renewal) or more, not {end:g}.")
    total = float(np.log(end / times).sum())
    free = times.size if is_time_terminated else times.size - 1
    if free < 1 or total <= 0:
        return _unknown(times.size, end, is_time_terminated, sure)
    return _known(
        times.size, end, total=total, free=free, is_time_terminated=is_time_terminated, confidence=sure
    )


def _unknown(renewals: int, end: float, is_time_terminated: bool, confidence: float) -> Growth:
    reason = (
        "All renewals came at the end of the observation."
        if renewals > 1
        else f"{renewals} renewals show no trend."
    )
    return Growth(renewals, end, is_time_terminated, "too_few", reason, confidence=confidence)


def _known(
    renewals: int, end: float, *, total: float, free: int, is_time_terminated: bool, confidence: float
) -> Growth:
    beta = renewals / total
    tails = (1 - confidence) / 2, (1 + confidence) / 2
    low, high = (float(special.gammaincinv(free, tail)) / total for tail in tails)
    intensity = renewals * beta / end
    trend, reason = _judge(renewals, beta=beta, interval=(low, high), confidence=confidence)
    unbiased = (free - 1) / total
    return Growth(
        renewals=renewals,
        end_hours=end,
        is_time_terminated=is_time_terminated,
        trend=trend,
        reason=reason,
        beta=beta,
        beta_unbiased=unbiased if unbiased > 0 else None,
        beta_interval=(low, high),
        rate_factor=math.exp(math.log(renewals) - beta * math.log(end)),
        intensity_per_hour=intensity,
        hours_between=1 / intensity,
        confidence=confidence,
    )


def _judge(
    renewals: int, *, beta: float, interval: tuple[float, float], confidence: float
) -> tuple[Trend, str]:
    low, high = interval
    span = f"beta is {beta:.3g} and its {100 * confidence:g} % interval, {low:.3g} to {high:.3g},"
    if renewals < FEWEST_FOR_TREND:
        return "too_few", f"{renewals} renewals are too few for a trend: {span} says little."
    if low > 1:
        return (
            "faster_and_faster",
            f"This position eats parts faster and faster: {span} lies above 1. Look at the drive.",
        )
    if high < 1:
        return "slower_and_slower", f"Renewals come further and further apart: {span} lies below 1."
    return "steady", f"No trend can be told: {span} holds 1."

"""Whether the renewals of one position come faster and faster.

A part that wears out says something about the part. A position whose renewals come ever closer says something about the
drive: a shaft out of line, a worn mate, a bad foundation.

Source: power law process (Crow 1974; MIL-HDBK-189, 1981, app. C) observed until a set time T: beta = n / sum ln(T/t);
2 n beta_true / beta is chi-square with 2n degrees of freedom.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import special

from drives.reliability.lifetimes import LONGEST_HOURS
from inventory.array_checks import number_list
from inventory.number_checks import fraction, positive

Trend = Literal["faster", "slower", "none", "too_few"]

FEWEST_FOR_TREND = 3
"""With fewer renewals a trend is a guess, as with a Weibull shape: judgement."""


@dataclass(frozen=True)
class RenewalTrend:
    """`beta` is above 1 where renewals come ever closer; it and its interval are None where there is no estimate."""

    trend: Trend
    beta: float | None = None
    beta_interval: tuple[float, float] | None = None

    @property
    def is_getting_worse(self) -> bool:
        return self.trend == "faster"


def fit_renewal_trend(hours: npt.ArrayLike, *, end_hours: float, confidence: float = 0.95) -> RenewalTrend:
    """Trend of the renewals at `hours`, in any order, of a position observed from 0 until `end_hours`.

    >>> fit_renewal_trend([900, 1500, 1900, 2200, 2400, 2550, 2650, 2700], end_hours=2750).trend
    'faster'
    """
    times = number_list("hours", hours, most=LONGEST_HOURS)
    if (times <= 0).any():
        raise ValueError("`hours` must all be more than 0.")
    share = fraction("confidence", confidence)
    end = positive("end_hours", end_hours, most=LONGEST_HOURS)
    if times.size and times.max() > end:
        raise ValueError(f"`end_hours` must be {times.max():g} (the last renewal) or more, not {end:g}.")
    total = float(np.log(end / times).sum())
    if total <= 0:
        return RenewalTrend("too_few")
    tails = (1 - share) / 2, (1 + share) / 2
    low, high = (float(special.gammaincinv(times.size, tail)) / total for tail in tails)
    return RenewalTrend(_trend(times.size, low, high), times.size / total, (low, high))


def _trend(renewals: int, low: float, high: float) -> Trend:
    if renewals < FEWEST_FOR_TREND:
        return "too_few"
    if low > 1:
        return "faster"
    return "slower" if high < 1 else "none"

"""Zero or few failures: what the hours run still say."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from drives.reliability.lives import LONGEST_HOURS
from inventory.array_checks import number_list
from inventory.number_checks import fraction, number, positive

MOST_FAILURES = 1e9


@dataclass(frozen=True)
class KnownShapeBound:
    """Scale of a Weibull law whose shape is known from elsewhere.

    `scale_hours` is the likeliest one; with no failure, the one that would be likeliest if the first failed now.
    """

    scale_hours: float
    scale_lower_hours: float
    failures: float
    confidence: float


def rate_upper(failures: float, *, exposure_hours: float, confidence: float = 0.95) -> float:
    """One-sided upper bound of a constant rate, observed until a set time.

    Parameters
    ----------
    failures : float
        Ends seen [-], 0 or more.
    exposure_hours : float
        Hours run in all [h], above 0.
    confidence : float
        One-sided [-], between 0 and 1; 0.5 gives the median estimate.

    Returns
    -------
    float
        Rate [1/h].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    chi2(c; 2r + 2) / (2T), Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 7; -ln(1-c)/T at r = 0.

    Examples
    --------
    >>> round(rate_upper(0, exposure_hours=10_000), 9)
    0.000299573
    """
    ends = number("failures", failures, least=0, most=MOST_FAILURES)
    hours = positive("exposure_hours", exposure_hours)
    return float(special.gammaincinv(ends + 1, fraction("confidence", confidence))) / hours


def rate_lower(failures: float, *, exposure_hours: float, confidence: float = 0.95) -> float:
    """One-sided lower bound of a constant rate, observed until a set time.

    Parameters
    ----------
    failures : float
        Ends seen [-], 0 or more.
    exposure_hours : float
        Hours run in all [h], above 0.
    confidence : float
        One-sided [-], between 0 and 1.

    Returns
    -------
    float
        Rate [1/h]; 0 without failures.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    chi2(1 - c; 2r) / (2T), Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 7.

    Examples
    --------
    >>> round(rate_lower(3, exposure_hours=25_000), 9)
    3.2708e-05
    """
    ends = number("failures", failures, least=0, most=MOST_FAILURES)
    hours = positive("exposure_hours", exposure_hours)
    sure = fraction("confidence", confidence)
    return float(special.gammaincinv(ends, 1 - sure)) / hours if ends else 0.0


def known_shape_bound(
    hours: npt.ArrayLike, *, shape: float, failures: float = 0, confidence: float = 0.9
) -> KnownShapeBound:
    """Lower bound of a Weibull scale where the shape is known.

    Parameters
    ----------
    hours : array_like of float
        Hours run by every unit [h], ended or not, 0 to 1e7; at least one above 0.
    shape : float
        Shape [-], from 0.001 to 100.
    failures : float
        How many of them were seen to end [-], 0 or more.
    confidence : float
        One-sided [-], between 0 and 1.

    Returns
    -------
    KnownShapeBound
        Scale [h] and its lower bound [h].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Abernethy, The New Weibull Handbook, 5th ed. 2006: (sum t^b / -ln(1-c))^(1/b) with no failure; with r failures t^b is
    exponential, so 2 sum t^b / chi2(c; 2r + 2) to the power 1/b.

    Examples
    --------
    >>> bound = known_shape_bound([500, 800, 1200, 900], shape=2)
    >>> round(bound.scale_hours, 3), round(bound.scale_lower_hours, 3)
    (1772.005, 1167.769)
    """
    run = number_list("hours", hours, most=LONGEST_HOURS)
    if not run.size or run.max() <= 0:
        raise ValueError("`hours` must hold at least one life above 0.")
    b = number("shape", shape, least=1e-3, most=100)
    ends = number("failures", failures, least=0, most=run.size)
    longest = float(run.max())
    total = float(np.sum((run / longest) ** b))
    quantile = float(special.gammaincinv(ends + 1, fraction("confidence", confidence)))
    return KnownShapeBound(
        scale_hours=longest * math.exp(math.log(total / max(ends, 1)) / b),
        scale_lower_hours=longest * math.exp(math.log(total / quantile) / b),
        failures=ends,
        confidence=confidence,
    )

"""How far the stock record can be trusted: how often counts were right, and how a record goes wrong with time."""

import math

from scipy import special

from inventory.number_checks import not_negative, positive

DAYS_PER_MONTH = 365 / 12


def wilson_interval(right: int, counted: int, confidence: float = 0.95) -> tuple[float, float]:
    """The share of right records that so many right counts leave possible.

    Parameters
    ----------
    right : int
        Counts that found what the book said [-], from 0 to `counted`.
    counted : int
        Counts in all [-], 1 or more.
    confidence : float
        Two-sided, in (0, 1) [-].

    Returns
    -------
    tuple[float, float]
        Lowest and highest share [-].

    Raises
    ------
    ValueError
        If a count is negative, there is none, or `confidence` lies outside (0, 1).

    Source
    ------
    E. B. Wilson, Probable inference, the law of succession, and statistical inference, Journal of the American
    Statistical Association 22 (1927), 209-212 (from memory).

    Examples
    --------
    >>> low, high = wilson_interval(57, 60)
    >>> print(f"{100 * low:.1f} to {100 * high:.1f} %")
    86.3 to 98.3 %
    """
    if counted < 1:
        raise ValueError(f"`counted` must be 1 or more, not {counted}.")
    if not 0 <= right <= counted:
        raise ValueError(f"`right` must lie from 0 to `counted`, not {right} of {counted}.")
    if not 0 < confidence < 1:
        raise ValueError(f"`confidence` must lie in (0, 1), not {confidence}.")
    z = float(special.ndtri(0.5 + confidence / 2))
    share, weight = right / counted, z * z / counted
    centre = (share + weight / 2) / (1 + weight)
    half = z * math.sqrt(share * (1 - share) / counted + weight / (4 * counted)) / (1 + weight)
    return max(centre - half, 0.0), min(centre + half, 1.0)


def error_hazard_per_month(errors: int, item_months: float) -> float:
    """How often a right record turns wrong, from counts a known time apart.

    Parameters
    ----------
    errors : int
        Counts that found something else than the book said [-], 0 or more.
    item_months : float
        Time that the counted records had been without a count, summed [month], above 0.

    Returns
    -------
    float
        Errors a month [1/month]. Without any error, half of one is taken: none was seen, not none can be.

    Raises
    ------
    ValueError
        If `errors` is negative or `item_months` is not above 0.

    Source
    ------
    Exposure estimate of a constant hazard, events over time at risk; half an event in place of none is the
    posterior mean under the prior of H. Jeffreys, Proc. Roy. Soc. A 186 (1946), 453-461 (from memory).

    Examples
    --------
    >>> error_hazard_per_month(12, 400)
    0.03
    """
    if errors < 0:
        raise ValueError(f"`errors` must be 0 or more, not {errors}.")
    return max(errors, 0.5) / positive("item_months", item_months)


def probability_right(hazard_per_month: float, months: float) -> float:
    """The chance that a record is right so long after it was last confirmed.

    Parameters
    ----------
    hazard_per_month : float
        Errors a month [1/month], 0 or more.
    months : float
        Since the last count [month], 0 or more.

    Returns
    -------
    float
        Chance [-].

    Raises
    ------
    ValueError
        If either is negative or not finite.

    Source
    ------
    Survival under a constant hazard, exp(-h t).

    Examples
    --------
    >>> round(probability_right(0.03, 18), 2)
    0.58
    """
    hazard = not_negative("hazard_per_month", hazard_per_month)
    return math.exp(-hazard * not_negative("months", months))

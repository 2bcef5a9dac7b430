"""How far the stock record can be trusted: how often counts were right, and how a record goes wrong with time."""

import math

from scipy import special

from inventory.number_checks import fraction, not_negative, positive, whole

DAYS_PER_MONTH = 365 / 12


def wilson_interval(right: int, counted: int, confidence: float = 0.95) -> tuple[float, float]:
    """Lowest and highest share of right records that so many right counts leave possible, two-sided.

    Source: E. B. Wilson, Journal of the American Statistical Association 22 (1927), 209-212 (from memory).
    """
    whole("counted", counted, least=1)
    whole("right", right, most=counted)
    z = float(special.ndtri(0.5 + fraction("confidence", confidence) / 2))
    share, weight = right / counted, z * z / counted
    centre = (share + weight / 2) / (1 + weight)
    half = z * math.sqrt(share * (1 - share) / counted + weight / (4 * counted)) / (1 + weight)
    # At none and at all the end is 0 and 1 exactly, whatever rounding leaves of it.
    return max(centre - half, 0.0) if right else 0.0, min(centre + half, 1.0) if right < counted else 1.0


def error_hazard_per_month(errors: int, item_months: float) -> float:
    """How often a right record turns wrong: errors found over the months that the counted records went without a count.

    Without any error half of one is taken: none was seen, not none can be. That is the posterior mean under the prior of
    H. Jeffreys, Proc. Roy. Soc. A 186 (1946), 453-461 (from memory).
    """
    return max(whole("errors", errors), 0.5) / positive("item_months", item_months)


def probability_right(hazard_per_month: float, months: float) -> float:
    """The chance that a record is right so many months after it was last confirmed: survival under a constant hazard."""
    hazard = not_negative("hazard_per_month", hazard_per_month)
    return math.exp(-hazard * not_negative("months", months))

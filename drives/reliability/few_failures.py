"""What the hours run say when few or no parts have failed."""

from scipy import special


def rate_upper_bound(failures: float, *, exposure_hours: float, confidence: float) -> float:
    """One-sided upper bound of a constant failure rate [1/h], observed until a set time. The caller checks the numbers.

    Source: chi2(c; 2r + 2) / (2T), Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 7.

    >>> round(rate_upper_bound(0, exposure_hours=10_000, confidence=0.95), 9)
    0.000299573
    """
    return float(special.gammaincinv(failures + 1, confidence)) / exposure_hours

"""Predicted demand of many items over one exposure, as stock for a target and as chances."""

from typing import Protocol

import numpy as np
from scipy import special

from inventory.array_checks import FloatArray, IntArray
from inventory.stocking.base_stock import (
    LEAST_OVERDISPERSION,
    negative_binomial_base_stock,
    poisson_base_stock,
)


class Prediction(Protocol):
    """For every item: the stock that promises a cycle service level, and P(demand <= x) for x = 0 to `most`."""

    def stock(self, target: float) -> IntArray: ...

    def within(self, most: int) -> FloatArray: ...


def window_sums(demand: FloatArray, span: int) -> FloatArray:
    """Sums over every `span` neighbouring periods of each item."""
    sums = np.cumsum(np.pad(demand, ((0, 0), (1, 0))), axis=1)
    return np.asarray(sums[:, span:] - sums[:, :-span])


class PoissonPrediction:
    """Poisson demand with a mean per item."""

    def __init__(self, mean: FloatArray) -> None:
        self.mean = mean

    def stock(self, target: float) -> IntArray:
        return poisson_base_stock(self.mean, target)

    def within(self, most: int) -> FloatArray:
        return np.asarray(special.pdtr(np.arange(most + 1.0), self.mean[:, None]))


class NegativeBinomialPrediction:
    """Negative binomial demand with mean and variance per item; Poisson where the variance is not above."""

    def __init__(self, mean: FloatArray, variance: FloatArray) -> None:
        self.mean, self.variance = mean, variance

    def stock(self, target: float) -> IntArray:
        return negative_binomial_base_stock(self.mean, self.variance, target)

    def within(self, most: int) -> FloatArray:
        chances = PoissonPrediction(self.mean).within(most)
        over = (self.variance > self.mean * (1 + LEAST_OVERDISPERSION)) & (self.mean > 0)
        mean, variance = self.mean[over, None], self.variance[over, None]
        size, fail = mean**2 / (variance - mean), (variance - mean) / variance
        pieces = np.arange(1.0, most + 1)
        # By the ratio of neighbouring chances: far quicker than an incomplete beta function for each.
        logs = np.empty((len(mean), most + 1))
        logs[:, :1] = size * np.log1p(-fail)
        logs[:, 1:] = np.log((size + (pieces - 1)) * fail / pieces)
        chances[over] = np.minimum(np.cumsum(np.exp(np.cumsum(logs, axis=1)), axis=1), 1.0)
        return chances


class WindowPrediction:
    """The sums seen over the windows of the record, each as likely as the other."""

    def __init__(self, sums: FloatArray) -> None:
        self.sums = np.sort(sums, axis=1)

    def stock(self, target: float) -> IntArray:
        """The next higher of two neighbouring sums, counted from the lowest (0) to the highest (1)."""
        return np.ceil(np.quantile(self.sums, target, axis=1, method="higher")).astype(np.int64)

    def within(self, most: int) -> FloatArray:
        pieces = np.arange(most + 1)
        return np.stack([np.searchsorted(row, pieces, side="right") / len(row) for row in self.sums])

"""What a Weibull fit leaves open: a few laws of lives with their chances, in place of the likeliest one alone.

The posterior of (ln shape, ln scale) under a flat prior, which for a location and the logarithm of a scale is Jeffreys'
independence prior, taken at the nodes of Gauss-Hermite quadrature along the axes of the curvature at the maximum and weighted by the
likelihood itself. Source: Naylor & Smith 1982, Applied Statistics 31; the prior: Meeker & Escobar 1998, ch. 14 (both from memory).
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from drives.reliability.lifetimes import Lifetimes
from drives.reliability.weibull import WeibullFit
from drives.reliability.weibull_likelihood import WeibullLikelihood
from inventory.array_checks import FloatArray

NODES = 4
"""To each axis: with five failures no chance of an end is off by more than 0.01."""
NEGLIGIBLE = 1e-3
"""Chances of a law below it are left out."""


@dataclass(frozen=True)
class LikelyWeibull:
    """`chance` of this shape and scale; those of a fit add up to 1."""

    chance: float
    shape: float
    scale_hours: float


def likely_weibulls(
    lifetimes: Lifetimes, fit: WeibullFit, *, nodes: int = NODES
) -> tuple[LikelyWeibull, ...]:
    """Laws that the lifetimes leave possible; `fit` is the estimate from them."""
    assert fit.shape is not None
    assert fit.scale_hours is not None
    likelihood = WeibullLikelihood.of(lifetimes)
    centre = np.array([math.log(fit.shape), math.log(fit.scale_hours)])
    places, weights = _grid(nodes)
    points = centre + places @ _axes(likelihood, centre).T
    heights = np.array([_height(likelihood, point) for point in points])
    logs = np.log(weights) + heights - _height(likelihood, centre) + (places**2).sum(axis=1) / 2
    chances = np.exp(logs - logs.max())
    kept = chances > NEGLIGIBLE * chances.sum()
    chances, laws = chances[kept] / chances[kept].sum(), np.exp(points[kept])
    return tuple(
        LikelyWeibull(chance, shape, scale)
        for chance, (shape, scale) in zip(chances.tolist(), laws.tolist(), strict=True)
    )


@lru_cache(maxsize=4)
def _grid(nodes: int) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights for two independent standard normal numbers."""
    x, w = np.polynomial.hermite_e.hermegauss(nodes)
    places = np.stack(np.meshgrid(x, x, indexing="ij"), axis=-1).reshape(-1, 2)
    return places, np.outer(w, w).ravel() / w.sum() ** 2


def _height(likelihood: WeibullLikelihood, point: FloatArray) -> float:
    return likelihood.at(_slopes(likelihood, point)).value


def _slopes(likelihood: WeibullLikelihood, point: FloatArray) -> FloatArray:
    """(a, b) of the likelihood from (ln shape, ln scale)."""
    shape = math.exp(point[0])
    return np.array([-shape * (point[1] - math.log(likelihood.unit_hours)), shape])


def _axes(likelihood: WeibullLikelihood, centre: FloatArray) -> FloatArray:
    """Root of the covariance of (ln shape, ln scale): at the maximum the gradient adds nothing."""
    a, b = _slopes(likelihood, centre)
    turn = np.array([[a, -b], [b, 0.0]])
    curvature = -turn.T @ likelihood.at(np.array([a, b])).curvature @ turn
    return np.linalg.cholesky(np.linalg.inv(curvature))

"""How many parts a position uses that gets a new one at each failure; lifetimes are Weibull with scale 1.

G_n(t), the chance of n renewals or more by t from a new part, follows G_n(t) = integral of G_{n-1}(t - s) dF(s). It is
held as a polynomial on each of many equal panels, in t, and in t^shape on the first one, where it is a power series in
that (Smith and Leadbetter, Technometrics 5, 1963). The integrals are Gauss sums over panels that shrink towards both
ends; what they miss of the whole mass of F sits at the start and is put there. `residual` is the error of an identity
that the results must obey: in equilibrium the expected number of renewals by t is t over the mean lifetime. Renewal
equation: Feller, An Introduction to Probability Theory and Its Applications, vol. 2, 2nd ed. 1971, ch. XI.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy import special

from inventory.array_checks import FloatArray

NODES = 16
# Widest panel, in scales and in widths of the distribution's steep part (about 1/shape).
WIDEST, WIDEST_IN_WIDTHS = 1.0, 2.0
MOST_PANELS = 64
SHRINK = 4.0
# Panels towards an end: the last is 4^-levels of the whole. The start needs more, for old parts end at once.
START_LEVELS, END_LEVELS = 27, 18
# The chances are at most about a hundred times as far off as the identity.
RESIDUAL = 1e-11
# Chances below this are not followed further.
NO_CHANCE = 1e-17
MOST_RENEWALS = 5000
LARGEST_POWER = 1e300

_GAUSS_X, _GAUSS_W = special.roots_legendre(12)
_GAUSS_X, _GAUSS_W = (_GAUSS_X + 1) / 2, _GAUSS_W / 2
_ANGLES = (np.arange(NODES) + 0.5) * math.pi / NODES
_LOCAL = (1 - np.cos(_ANGLES)) / 2
# From values at the nodes to coefficients of Chebyshev polynomials of 2x - 1.
_TO_COEFFICIENTS = 2 / NODES * np.cos(np.arange(NODES)[:, None] * (math.pi - _ANGLES))
_TO_COEFFICIENTS[0] /= 2


def cumulative_hazard(ages: FloatArray, spans: npt.ArrayLike, *, shape: float) -> FloatArray:
    """(a + s)^b - a^b without cancellation, as a^b expm1(b log1p(s/a)): from each age over a span, in scales.

    >>> cumulative_hazard(np.array([0.0, 0.6]), 0.8, shape=2).round(12).tolist()
    [0.64, 1.6]
    """
    old = np.asarray(ages, dtype=np.float64)
    span = np.asarray(spans, dtype=np.float64)
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        power = np.minimum(old**shape, LARGEST_POWER)
        grown = power * np.expm1(shape * np.log1p(span / old))
        # From an age that is small beside the span, the plain difference is the exact one.
        plain = (old + span) ** shape - power
        return np.asarray(np.where(old > span, grown, plain))


def _density(ages: FloatArray, spans: FloatArray, shape: float) -> FloatArray:
    with np.errstate(divide="ignore", over="ignore"):
        logs = math.log(shape) + (shape - 1) * np.log(ages + spans)
        return np.asarray(np.exp(logs - cumulative_hazard(ages, spans, shape=shape)))


@dataclass(frozen=True, eq=False)
class RenewalTable:
    """G_1, G_2, … at the nodes of the panels up to `reach`, in scales; one row for each number of renewals."""

    shape: float
    reach: float
    width: float
    at_least: FloatArray
    residual: float

    def expected(self, times: FloatArray) -> FloatArray:
        """Expected number of renewals of a new part by times up to `reach`."""
        later = self.at_least[1:].sum(axis=0)
        first = -np.expm1(-(times**self.shape))
        return np.asarray(first + _interpolation(times, self.width, self.shape, self._panels) @ later)

    def chances(self, ages: FloatArray, within: float | None = None) -> FloatArray:
        """Chance of n renewals or more within `reach`, or a shorter time, one row per age, n = 0, 1, …"""
        within = self.reach if within is None else within
        spans, back, weights = _quadrature(within, self.width)
        earlier = _interpolation(back, self.width, self.shape, self._panels) @ self.at_least.T
        at_once = _interpolation(np.array([within]), self.width, self.shape, self._panels) @ self.at_least.T
        first = -np.expm1(-cumulative_hazard(ages, within, shape=self.shape))
        mass = _density(ages[:, None], spans[None, :], self.shape) * weights
        missed = first - mass.sum(axis=1)
        table = np.concatenate(
            (np.ones((ages.size, 1)), first[:, None], mass @ earlier + missed[:, None] * at_once), axis=1
        )
        # Rounding may leave a chance below zero or above the one before it.
        return np.minimum.accumulate(np.clip(table, 0.0, 1.0), axis=1)

    @property
    def _panels(self) -> int:
        return int(self.at_least.shape[1]) // NODES


@lru_cache(maxsize=256)
def renewal_table(shape: float, reach: float) -> RenewalTable:
    """Chances of renewals of a new part up to `reach`, in scales, for shapes from 0.1 and at most `MOST_PANELS` panels.

    >>> round(float(renewal_table(2.0, 1.0).expected(np.array([1.0]))[0]), 10)
    0.7536912775
    """
    panels = panels_needed(shape, reach)
    table = _build(shape, reach, panels)
    while table.residual > RESIDUAL and panels <= MOST_PANELS:
        panels *= 2
        table = _build(shape, reach, panels)
    table.at_least.setflags(write=False)
    return table


def panels_needed(shape: float, reach: float) -> int:
    """Panels of one scale, and no more than twice the width of the steep part of the distribution. Own rule, which the
    residual confirms."""
    return max(1, math.ceil(reach / min(WIDEST, WIDEST_IN_WIDTHS / shape) - 1e-9))


def _build(shape: float, reach: float, panels: int) -> RenewalTable:
    width = reach / panels
    nodes = _nodes(width, shape, panels)
    operator = _operator(nodes, width, shape, panels)
    end = _interpolation(np.array([reach]), width, shape, panels)[0]
    rows = [-np.expm1(-(nodes**shape))]
    while len(rows) < MOST_RENEWALS and (len(rows) == 1 or end @ rows[-1] > NO_CHANCE):
        rows.append(operator @ rows[-1])
    at_least = np.array(rows)
    draft = RenewalTable(shape, reach, width, at_least, math.nan)
    spans, back, weights = _quadrature(reach, width)
    in_equilibrium = np.dot(weights * np.exp(-(spans**shape)), 1 + draft.expected(back))
    return RenewalTable(shape, reach, width, at_least, abs(float(in_equilibrium) / reach - 1))


def _nodes(width: float, shape: float, panels: int) -> FloatArray:
    later = (np.arange(1, panels)[:, None] + _LOCAL) * width
    return np.concatenate((width * _LOCAL ** (1 / shape), later.ravel()))


def _operator(nodes: FloatArray, width: float, shape: float, panels: int) -> FloatArray:
    """Matrix of the integral of G(t - s) dF(s) at the nodes t; nodes of one panel share their division."""
    operator = np.zeros((nodes.size, panels * NODES))
    for panel in range(panels):
        rows = np.arange(panel * NODES, (panel + 1) * NODES)
        share, rest, weights = _division(max(1.0, panel + 1.0))
        times = nodes[rows, None]
        mass = _density(np.zeros(1), times * share, shape) * times * weights
        back = times * rest
        part = _scattered(back, mass, width, shape, panels)
        missed = -np.expm1(-(nodes[rows] ** shape)) - mass.sum(axis=1)
        part[np.arange(NODES), rows] += missed
        operator[rows] = part
    return operator


def _scattered(
    points: FloatArray, weights: FloatArray, width: float, shape: float, panels: int
) -> FloatArray:
    """Row by row, the sum of weights times the value at points, as a sum over values at nodes."""
    rows = points.shape[0]
    place, basis = _located(points.ravel(), width, shape, panels)
    basis *= weights.ravel()[:, None]
    cell = place + np.repeat(np.arange(rows) * panels, points.shape[1])
    order = np.argsort(cell, kind="stable")
    found, starts = np.unique(cell[order], return_index=True)
    sums = np.zeros((rows * panels, NODES))
    sums[found] = np.add.reduceat(basis[order], starts, axis=0)
    return np.asarray((sums @ _TO_COEFFICIENTS).reshape(rows, panels * NODES))


def _interpolation(points: FloatArray, width: float, shape: float, panels: int) -> FloatArray:
    place, basis = _located(points, width, shape, panels)
    values = basis @ _TO_COEFFICIENTS
    matrix = np.zeros((points.size, panels, NODES))
    matrix[np.arange(points.size), place] = values
    return matrix.reshape(points.size, panels * NODES)


def _located(
    points: FloatArray, width: float, shape: float, panels: int
) -> tuple[npt.NDArray[np.intp], FloatArray]:
    """Panel of each point, and the Chebyshev polynomials there."""
    scaled = points / width
    place = np.clip(scaled.astype(np.intp), 0, panels - 1)
    local = np.where(place == 0, np.minimum(scaled, 1.0) ** shape, scaled - place)
    twice = 2 * np.clip(2 * local - 1, -1.0, 1.0)
    rows = np.empty((NODES, points.size))
    rows[0], rows[1] = 1.0, twice / 2
    for order in range(2, NODES):
        np.multiply(twice, rows[order - 1], out=rows[order])
        rows[order] -= rows[order - 2]
    return place, rows.T.copy()


def _quadrature(reach: float, width: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Spans from 0 to `reach`, what is left after each, and weights."""
    share, rest, weights = _division(max(1.0, reach / width))
    return reach * share, reach * rest, reach * weights


@lru_cache(maxsize=1024)
def _division(widths: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Gauss points and weights of 0 to 1: shrinking panels at both ends, equal ones of at most 1/`widths` between."""
    edge = min(0.5, 1 / widths)
    inner = math.ceil((1 - 2 * edge) * widths - 1e-9)
    towards_start = np.concatenate(([0.0], edge * SHRINK ** -np.arange(START_LEVELS, -1.0, -1.0)))
    towards_end = np.concatenate(([0.0], edge * SHRINK ** -np.arange(END_LEVELS, -1.0, -1.0)))
    between = np.linspace(edge, 1 - edge, inner + 1) if inner else np.array([edge])
    from_start = np.concatenate((towards_start, between[1:]))
    start_points, start_weights = _gauss(from_start)
    end_points, end_weights = _gauss(towards_end)
    share = np.concatenate((start_points, 1 - end_points[::-1]))
    rest = np.concatenate((1 - start_points, end_points[::-1]))
    return share, rest, np.concatenate((start_weights, end_weights[::-1]))


def _gauss(edges: FloatArray) -> tuple[FloatArray, FloatArray]:
    lengths = np.diff(edges)
    return (edges[:-1, None] + lengths[:, None] * _GAUSS_X).ravel(), (lengths[:, None] * _GAUSS_W).ravel()

"""Second implementations, plain and slow, that the product is compared with."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np


def plain_croston(series, alpha):
    """Smoothed size, smoothed interval and rate by the recursion as published."""
    size = interval = None
    since = 0
    for demand in series:
        since += 1
        if demand > 0:
            size = demand if size is None else size + alpha * (demand - size)
            interval = since if interval is None else interval + alpha * (since - interval)
            since = 0
    return (0.0, 0.0, 0.0) if size is None else (size, interval, size / interval)


def plain_tsb(series, alpha_size, alpha_probability):
    chance, size = float(series[0] > 0), None
    for period, demand in enumerate(series):
        if demand > 0:
            size = demand if size is None else size + alpha_size * (demand - size)
        if period:
            chance += alpha_probability * ((demand > 0) - chance)
    return chance * (size or 0)


def shortage(graph, demands):
    """Unserved pieces however the stock is given out: the largest deficiency of any set of classes.

    Hall 1935, J. London Math. Soc. 10; deficiency version: Ore 1955, Duke Math. J. 22.
    """
    return int(_deficiency(graph, list(range(graph.classes)), np.array([demands]))[0])


def shortage_by_enumeration(graph, demands):
    """Expected pieces short and the chance that none is, over every combination of demands."""
    chances = np.ones(1)
    for demand in demands:
        chances = np.outer(chances, demand.pmf).ravel()
    sizes = [len(demand) for demand in demands]
    rows = np.stack(np.unravel_index(np.arange(len(chances)), sizes), axis=1)
    short = _deficiency(graph, list(range(graph.classes)), rows)
    return float(np.dot(chances, short)), float(chances[short == 0].sum())


def _deficiency(graph, classes, demands):
    worst = np.zeros(len(demands), dtype=np.int64)
    parts = [graph.parts_of(item) for item in classes]
    for size in range(1, len(classes) + 1):
        for chosen in combinations(classes, size):
            covered_by = frozenset().union(*(parts[item] for item in chosen))
            held = sum(graph.stock[part] for part in covered_by)
            np.maximum(worst, demands[:, list(chosen)].sum(axis=1) - held, out=worst)
    return worst


@dataclass(frozen=True)
class Buy:
    item: int
    stock: tuple[int, ...]
    spend: float
    total_ebo: float


def marginal_buys(demands, unit_costs, *, budget, weights=None):
    """One piece after another where it avoids most weighted backorders per unit of money (Fox 1966, Management Science 13)."""
    weights = weights or [1.0] * len(demands)
    stock, spent, buys = [0] * len(demands), 0.0, []

    def gain(item):
        return weights[item] * demands[item].chance_above(stock[item]) / unit_costs[item]

    while True:
        item = max(range(len(demands)), key=lambda candidate: (gain(candidate), -candidate))
        if gain(item) <= 0 or spent + unit_costs[item] > budget:
            return buys
        stock[item] += 1
        spent += unit_costs[item]
        left = sum(w * d.expected_above(s) for w, d, s in zip(weights, demands, stock, strict=True))
        buys.append(Buy(item, tuple(stock), spent, left))

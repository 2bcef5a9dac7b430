"""Times the search for base stocks against scipy.stats ppf: same items, same run, answers compared.

Run: python -m tests.benchmarks.base_stock_search [items]
"""

import sys
from collections.abc import Callable
from time import perf_counter

import numpy as np
from scipy import stats

from inventory.stocking.base_stock import (
    negative_binomial_base_stock,
    poisson_base_stock,
)

SEED = 20260101
TARGET = 0.95
ROUNDS = 3


def best(work: Callable[[], np.ndarray]) -> tuple[np.ndarray, float]:
    times = []
    for _ in range(ROUNDS):
        started = perf_counter()
        answer = work()
        times.append(perf_counter() - started)
    return answer, min(times)


def compare(name: str, ours: Callable[[], np.ndarray], peer: Callable[[], np.ndarray]) -> None:
    stock, seconds = best(ours)
    theirs, peer_seconds = best(peer)
    print(
        f"{name}: {len(stock):,} items in {seconds:.3f} s, scipy.stats {peer_seconds:.3f} s,"
        f" ratio {peer_seconds / seconds:.1f}, {int((stock != theirs).sum())} answers differ"
    )


def main(items: int) -> None:
    random = np.random.default_rng(SEED)
    mean = random.gamma(1.0, 3.0, items)
    variance = mean * (1 + random.gamma(1.0, 1.0, items))
    targets = random.choice([0.9, 0.95, 0.98, 0.99], items)
    size, success = mean**2 / (variance - mean), mean / variance
    compare(
        "Poisson, one target",
        lambda: poisson_base_stock(mean, TARGET),
        lambda: stats.poisson.ppf(TARGET, mean),
    )
    compare(
        "Poisson, a target each",
        lambda: poisson_base_stock(mean, targets),
        lambda: stats.poisson.ppf(targets, mean),
    )
    compare(
        "negative binomial, one target",
        lambda: negative_binomial_base_stock(mean, variance, TARGET),
        lambda: stats.nbinom.ppf(TARGET, size, success),
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)

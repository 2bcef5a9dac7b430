"""Speed of many Weibull fits at once against general libraries one by one, and whether the results agree.

    python -m tests.benchmarks.weibull_groups [--groups 10000] [--peer-groups 60] [--rounds 3]

Random groups of 20 to 200 right-censored lifetimes. Own and others are timed in turn in the same run, on the same groups;
the others on the first few only, as they take seconds per hundred. A library that is not installed is named and left out.
The result of each group is compared with the root of the score found by bisection, which no fitter shares.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import time
import warnings
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from drives.reliability.lifetimes import Lifetimes, right_censored
from drives.reliability.weibull_groups import fit_weibull_groups

GOAL = 500
AGREEMENT = 1e-7
Fitter = Callable[[np.ndarray, np.ndarray], tuple[float, float]]


def random_groups(count: int, *, seed: int) -> Lifetimes:
    rng = np.random.default_rng(seed)
    sizes = rng.integers(20, 201, count)
    shapes = np.repeat(rng.uniform(0.5, 4.0, count), sizes)
    lifetimes, inspections = 1000 * rng.weibull(shapes), 1100 * rng.weibull(shapes)
    return right_censored(
        np.minimum(lifetimes, inspections),
        observed=lifetimes <= inspections,
        groups=np.repeat(np.arange(count), sizes),
    )


def by_scipy(hours: np.ndarray, observed: np.ndarray) -> tuple[float, float]:
    from scipy import stats

    censored = stats.CensoredData(uncensored=hours[observed], right=hours[~observed])
    shape, _, scale = stats.weibull_min.fit(censored, 1.0, floc=0, scale=float(hours.mean()))
    return shape, scale


def by_lifelines(hours: np.ndarray, observed: np.ndarray) -> tuple[float, float]:
    from lifelines import WeibullFitter

    fit = WeibullFitter().fit(hours, observed)
    return fit.rho_, fit.lambda_


def by_surpyval(hours: np.ndarray, observed: np.ndarray) -> tuple[float, float]:
    import surpyval

    scale, shape = surpyval.Weibull.fit(hours, c=(~observed).astype(int)).params
    return shape, scale


PEERS: dict[str, Fitter] = {"scipy": by_scipy, "lifelines": by_lifelines, "surpyval": by_surpyval}


def by_bisection(hours: np.ndarray, observed: np.ndarray) -> tuple[float, float]:
    logs = np.log(hours / hours.max())
    mean, failures = logs[observed].mean(), observed.sum()
    low, high = 1e-3, 1e3
    for _ in range(80):
        shape = (low * high) ** 0.5
        powers = np.exp(shape * logs)
        if (powers * logs).sum() / powers.sum() - 1 / shape < mean:
            low = shape
        else:
            high = shape
    return shape, float(hours.max() * (powers.sum() / failures) ** (1 / shape))


def timed(fitter: Fitter, parts: list[tuple[np.ndarray, np.ndarray]]) -> tuple[float, np.ndarray]:
    start = time.perf_counter()
    found = [fitter(*part) for part in parts]
    return (time.perf_counter() - start) / len(parts), np.array(found)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--groups", type=int, default=10_000)
    parser.add_argument("--peer-groups", type=int, default=60)
    parser.add_argument("--rounds", type=int, default=3)
    arguments = parser.parse_args()
    warnings.simplefilter("ignore")
    lifetimes = random_groups(arguments.groups, seed=11)
    edges = np.searchsorted(lifetimes.groups, np.arange(arguments.groups + 1))
    parts = [
        (lifetimes.lower_hours[low:high], lifetimes.is_observed[low:high]) for low, high in pairwise(edges)
    ]
    peers = {name: fitter for name, fitter in PEERS.items() if importlib.util.find_spec(name)}
    print(
        f"{arguments.groups} groups, {len(lifetimes)} lifetimes, {lifetimes.failures / len(lifetimes):.0%} failed"
    )
    print("not installed:", ", ".join(sorted(set(PEERS) - set(peers))) or "none")
    own: list[float] = []
    others: dict[str, list[float]] = {name: [] for name in peers}
    answers: dict[str, np.ndarray] = {}
    for _ in range(arguments.rounds):
        for name, fitter in peers.items():
            seconds, answers[name] = timed(fitter, parts[: arguments.peer_groups])
            others[name].append(seconds)
        start = time.perf_counter()
        fits = fit_weibull_groups(lifetimes)
        own.append((time.perf_counter() - start) / arguments.groups)
    mine = np.column_stack((fits.shape, fits.scale_hours))
    exact = np.array([by_bisection(*part) for part in parts])
    error = float(np.nanmax(np.abs(mine / exact - 1)))
    print(f"own: {1 / np.median(own):,.0f} groups/s, farthest from bisection {error:.1e} (relative)")
    ratios = {name: float(np.median(seconds) / np.median(own)) for name, seconds in others.items()}
    for name, ratio in sorted(ratios.items(), key=lambda entry: entry[1]):
        apart = np.abs(answers[name] / mine[: arguments.peer_groups] - 1)
        print(
            f"{name}: {1 / np.median(others[name]):,.1f} groups/s, own is {ratio:,.0f} times as fast;"
            f" answers apart: median {np.median(apart):.1e}, most {apart.max():.1e}"
        )
    fastest = min(ratios.values(), default=float("nan"))
    print(
        f"against the fastest of them: {fastest:,.0f} times (goal {GOAL}); within {AGREEMENT:g} of bisection: {error < AGREEMENT}"
    )
    return 0 if fastest >= GOAL and error < AGREEMENT else 1


if __name__ == "__main__":
    raise SystemExit(main())

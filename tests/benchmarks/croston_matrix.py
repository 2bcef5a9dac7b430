"""Times SBA and TSB over a matrix of records against statsforecast, on the same data in the same run.

Run: python -m tests.benchmarks.croston_matrix [records]
Without statsforecast in the environment only our own side is timed, and that is said.
"""

import sys
from collections.abc import Callable
from time import perf_counter

import numpy as np

from inventory.stocking.intermittent import sba_rates, tsb_rates

PERIODS = 60
SEED = 20260101
ROUNDS = 3


def records(count: int) -> np.ndarray:
    random = np.random.default_rng(SEED)
    return (random.random((count, PERIODS)) < 0.25) * random.integers(1, 6, (count, PERIODS)).astype(float)


def best(work: Callable[[], np.ndarray]) -> tuple[np.ndarray, float]:
    times = []
    for _ in range(ROUNDS):
        started = perf_counter()
        answer = work()
        times.append(perf_counter() - started)
    return answer, min(times)


def peer_rates(demand: np.ndarray, model: object) -> np.ndarray:
    """One call of the peer's model per record, without its data frames: its quickest way."""
    return np.array([model.forecast(y=row, h=1)["mean"][0] for row in demand])  # type: ignore[attr-defined]


def main(count: int) -> None:
    demand = records(count)
    ours = {
        "SBA": lambda: sba_rates(demand, 0.1),
        "TSB": lambda: tsb_rates(demand, alpha_size=0.1, alpha_probability=0.1),
    }
    try:
        from statsforecast.models import TSB, CrostonSBA
    except ImportError:
        peers = {}
        print("statsforecast is not installed: only our own side is timed.")
    else:
        peers = {"SBA": CrostonSBA(), "TSB": TSB(alpha_d=0.1, alpha_p=0.1)}
        for model in peers.values():
            peer_rates(demand[:10], model)
    for name, work in ours.items():
        rates, seconds = best(work)
        print(f"{name}: {count:,} records x {PERIODS} in {seconds:.3f} s, {count / seconds:,.0f}/s")
        if name in peers:
            theirs, peer_seconds = best(lambda name=name: peer_rates(demand, peers[name]))
            gap = np.abs(rates - theirs).max()
            print(
                f"  peer {peer_seconds:.2f} s, ratio {peer_seconds / seconds:.0f}, largest difference {gap:.1e}"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)

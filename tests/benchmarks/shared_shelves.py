"""Chances at shelves that many positions share: CPU time and the width of the bounds, over generated stock.

Eight shelves hold 4 to 175 pieces, as ordinary stock does; others are drawn at random. No database is asked.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from time import process_time

import numpy as np

from drives.exposure.unserved_chance import AvailableCover, chances_unserved
from inventory.array_checks import FloatArray
from inventory.stocking.lead_time_demand import LeadTimeDemand, negative_binomial
from tests.benchmarks.measures import Measure

ORDINARY = (4, 9, 10, 12, 16, 50, 99, 175)
PLANTS = 10
MOST_SECONDS = 30.0
"""Of all positions that share some shelves, in the background."""
WIDEST_BOUNDS = 0.05


@dataclass(frozen=True)
class Shelves:
    cover: AvailableCover
    demands: dict[int, LeadTimeDemand]


def ordinary(seed: int, positions: int, most: float) -> Shelves:
    """Each position needs up to `most` pieces in a lead time, on average."""
    chance = np.random.default_rng(seed)
    stock = [int(one) for one in chance.permutation(ORDINARY)]
    return shelves_of(chance, stock, chance.uniform(most / 20, most, positions))


def drawn(seed: int) -> Shelves:
    chance = np.random.default_rng(seed)
    stock = np.exp(chance.uniform(0, np.log(200), chance.integers(2, 13))).astype(int).tolist()
    means = chance.uniform(0.005, chance.choice([0.05, 0.3]), chance.integers(5, 61))
    return shelves_of(chance, stock, means)


def shelves_of(chance: np.random.Generator, stock: list[int], means: FloatArray) -> Shelves:
    """Each position may take from up to three shelves."""
    serves = {
        one: [
            (int(shelf), 1)
            for shelf in chance.choice(len(stock), min(len(stock), 1 + one % 3), replace=False)
        ]
        for one in range(len(means))
    }
    pieces = {(shelf, 1): count for shelf, count in enumerate(stock)}
    demands = {one: negative_binomial(mean, 1.5 * mean) for one, mean in enumerate(means)}
    return Shelves(AvailableCover(pieces, serves), demands)


@dataclass(frozen=True)
class Answered:
    seconds: float
    widest: float


def answered(shelves: Shelves) -> Answered:
    began = process_time()
    found = chances_unserved(shelves.demands, shelves.cover, shelves.demands.__getitem__).values()
    seconds = process_time() - began
    assert all(0 <= one.at_least <= one.value <= one.of_demand for one in found)
    return Answered(seconds, max(one.value - one.at_least for one in found))


def measures() -> Iterator[Measure]:
    usual = {
        "30 positions at eight shelves": [ordinary(seed, 30, 0.1) for seed in range(PLANTS)],
        "30 that wear fast": [ordinary(seed, 30, 0.3) for seed in range(PLANTS)],
        "90 positions at eight shelves": [ordinary(seed, 90, 0.1) for seed in range(PLANTS)],
        "shelves drawn at random": [drawn(seed) for seed in range(2 * PLANTS)],
    }
    for what, plants in usual.items():
        found = [answered(one) for one in plants]
        slowest, widest = max(one.seconds for one in found), max(one.widest for one in found)
        yield Measure(f"{what}, slowest", "s CPU", slowest, MOST_SECONDS, judged="ours")
        yield Measure(f"{what}, widest bounds", "share", widest, WIDEST_BOUNDS, judged="ours")
    # The demand of a lead time is half of the stock: here the bounds are wide, and the time is bounded all the same.
    slowest = max(answered(ordinary(seed, 30, 12.0)).seconds for seed in range(2))
    yield Measure("demand of half the stock, slowest", "s CPU", slowest, MOST_SECONDS, judged="ours")

"""Chances at shelves that many positions share: CPU time and the width of the bounds, over generated stock.

Eight shelves hold 4 to 175 pieces, as ordinary stock does; others are drawn at random, from a shelf for all to one for each. The demand
of a lead time is small beside the stock, or near it, where no plenty can be cut. No database is asked.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from time import process_time

import numpy as np

from drives.exposure.unserved_chance import AvailableCover, chances_unserved
from inventory.stocking.lead_time_demand import LeadTimeDemand, negative_binomial
from tests.benchmarks.measures import Measure

ORDINARY = (4, 9, 10, 12, 16, 50, 99, 175)
POSITIONS = 30
PLANTS = 20
MOST_SECONDS = 5.0
"""Of one group of shelves: a plant of 200 such groups is worked out in a night's quarter of an hour."""
WIDEST_BOUNDS = 0.05


@dataclass(frozen=True)
class Shelves:
    cover: AvailableCover
    demands: dict[int, LeadTimeDemand]


def ordinary(seed: int, share_of_stock: float) -> Shelves:
    chance = np.random.default_rng(seed)
    return shelves_of(chance, [int(one) for one in chance.permutation(ORDINARY)], POSITIONS, share_of_stock)


def drawn(seed: int) -> Shelves:
    chance = np.random.default_rng(seed)
    stock = np.exp(chance.uniform(0, np.log(200), chance.integers(2, 13))).astype(int)
    return shelves_of(chance, stock.tolist(), int(chance.integers(5, 61)), chance.uniform(0.01, 1.1))


def shelves_of(
    chance: np.random.Generator, stock: list[int], positions: int, share_of_stock: float
) -> Shelves:
    """Each position may take from up to three shelves; together they need that share of the stock."""
    serves = {
        one: [
            (int(shelf), 1)
            for shelf in chance.choice(len(stock), min(len(stock), 1 + one % 3), replace=False)
        ]
        for one in range(positions)
    }
    means = chance.uniform(0.1, 1.0, positions)
    means *= share_of_stock * sum(stock) / means.sum()
    pieces = {(shelf, 1): count for shelf, count in enumerate(stock)}
    return Shelves(
        AvailableCover(pieces, serves),
        {one: negative_binomial(mean, 1.5 * mean) for one, mean in enumerate(means)},
    )


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
    groups = {
        "eight ordinary shelves, little demand": [ordinary(seed, 0.004) for seed in range(PLANTS)],
        "eight ordinary shelves, half the stock": [ordinary(seed, 0.5) for seed in range(PLANTS)],
        "eight ordinary shelves, all of the stock": [ordinary(seed, 1.0) for seed in range(PLANTS)],
        "shelves drawn at random": [drawn(seed) for seed in range(5 * PLANTS)],
    }
    for what, plants in groups.items():
        found = [answered(one) for one in plants]
        yield Measure(
            f"{what}, slowest", "s CPU", max(one.seconds for one in found), MOST_SECONDS, judged="ours"
        )
        yield Measure(
            f"{what}, widest bounds", "share", max(one.widest for one in found), WIDEST_BOUNDS, judged="ours"
        )

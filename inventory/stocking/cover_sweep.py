"""The sweep over the classes of a shared stock that gives its expected shortage exactly, for large stocks too."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from inventory.array_checks import FloatArray, IntArray
from inventory.stocking.lead_time_demand import LeadTimeDemand

MOST_STATES = 500_000
"""States of what is left that a sweep carries along; more is refused by name."""

WIDEST_FRONTIER = 12
"""Parts that may be shared at one time between classes looked at and classes still to come."""


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """One class: its parts and those shared before it, and which of them are shared after it."""

    item: int
    own: frozenset[int]
    before: tuple[int, ...]
    joint: tuple[int, ...]
    after: tuple[int, ...]


class Sweep:
    """Serves the classes of one component in turn.

    A state is the rank function of what is left: for every set T of shared parts, how much more could be
    served from T together with all that served classes hold, h(T) = min over served classes U of
    stock(N(U) or T) - served(U). States that agree on it are one.
    """

    def __init__(self, stock: Sequence[int], parts: dict[int, frozenset[int]]) -> None:
        self.stock = stock
        held = {item: frozenset(p for p in own if stock[p] > 0) for item, own in parts.items()}
        self.steps = _order(held)

    def run(self, demands: Sequence[LeadTimeDemand]) -> tuple[float, float]:
        """Expected pieces served, and the chance that all are."""
        ranks = np.zeros((1, 1), dtype=np.int64)
        weights = np.ones((1, 2))
        served = 0.0
        for step in self.steps:
            ranks, weights, more = self._serve(step, ranks, weights, demands[step.item])
            served += more
        return served, float(weights[:, 1].sum())

    def _serve(
        self, step: _Step, ranks: IntArray, weights: FloatArray, demand: LeadTimeDemand
    ) -> tuple[IntArray, FloatArray, float]:
        joint = self._extended(step, ranks)
        own = _mask(step.own, step.joint)
        room = joint[:, own]
        kept = np.array([_mask(frozenset(chosen), step.joint) for chosen in _subsets(step.after)])
        next_ranks, next_weights, served = [], [], 0.0
        for pieces in range(int(room.max()) + 1):
            open_ = room >= pieces
            full = room[open_] == pieces
            exact = float(demand.pmf[pieces]) if pieces < len(demand) else 0.0
            chance = np.where(full, demand.chance_above(pieces - 1), exact)
            served += pieces * float(np.dot(weights[open_, 0], chance))
            left = np.minimum(joint[open_], joint[open_][:, np.arange(joint.shape[1]) | own] - pieces)
            next_ranks.append(left[:, kept])
            next_weights.append(weights[open_] * np.stack([chance, np.full(len(full), exact)], axis=1))
        return *_merged(np.concatenate(next_ranks), np.concatenate(next_weights)), served

    def _extended(self, step: _Step, ranks: IntArray) -> IntArray:
        """The rank function on the parts shared so far and those that this class brings in."""
        masks = range(1 << len(step.joint))
        shared = [_mask(_chosen(mask, step.joint), step.before) for mask in masks]
        fresh = [
            sum(self.stock[part] for part in _chosen(mask, step.joint) if part not in step.before)
            for mask in masks
        ]
        return np.asarray(ranks[:, shared] + np.array(fresh, dtype=np.int64))


def _order(parts: dict[int, frozenset[int]]) -> list[_Step]:
    """Classes in an order that keeps few parts shared: next always the one that leaves the fewest."""
    steps: list[_Step] = []
    waiting = dict(sorted(parts.items()))
    before: tuple[int, ...] = ()

    def shared_after(item: int) -> frozenset[int]:
        others = frozenset().union(*(own for other, own in waiting.items() if other != item))
        return (frozenset(before) | waiting[item]) & others

    while waiting:
        item = min(waiting, key=lambda candidate: (len(shared_after(candidate)), candidate))
        after = tuple(sorted(shared_after(item)))
        own = waiting.pop(item)
        joint = tuple(sorted(frozenset(before) | own))
        if len(joint) > WIDEST_FRONTIER:
            raise ValueError(
                f"`covers` must not share more than {WIDEST_FRONTIER} parts at a time, got {len(joint)}"
            )
        steps.append(_Step(item, own, before, joint, after))
        before = after
    return steps


def _merged(ranks: IntArray, weights: FloatArray) -> tuple[IntArray, FloatArray]:
    alive = weights[:, 0] > 0
    states, place = np.unique(ranks[alive], axis=0, return_inverse=True)
    if len(states) > MOST_STATES:
        raise ValueError(f"`stock` must not leave more than {MOST_STATES:,} states, got {len(states):,}")
    sums = np.zeros((len(states), 2))
    np.add.at(sums, place.ravel(), weights[alive])
    return states, sums


def _mask(chosen: frozenset[int], parts: tuple[int, ...]) -> int:
    return sum(1 << index for index, part in enumerate(parts) if part in chosen)


def _chosen(mask: int, parts: tuple[int, ...]) -> frozenset[int]:
    return frozenset(part for index, part in enumerate(parts) if mask >> index & 1)


def _subsets(parts: tuple[int, ...]) -> list[frozenset[int]]:
    return [_chosen(mask, parts) for mask in range(1 << len(parts))]

"""The sweep over the classes of a shared stock that gives its shortage exactly, for large stocks too.

Plenty is cut: what is left matters only up to the demand that may still come for it, without what has a negligible chance.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.array_checks import FloatArray, IntArray
from inventory.stocking.lead_time_demand import LeadTimeDemand

NEGLIGIBLE_CHANCE = 1e-12
"""Stock that only a demand of this chance passes is as good as endless: as far as distributions of demand are written out."""

UNSEEN_CHANCE = 1e-10
"""The same for a chance that is shown."""

MOST_STATES = 500_000
"""States of what is left that a sweep carries along; more is refused by name."""

MOST_RANKS = 50_000
"""Ranks that the question of what is left carries along: it leaves the least likely states out, and says with which chance."""

MOST_WORK = 4_000_000
"""Numbers that the question of one class touches in all its steps, some tenths of a second: where the demand is as large as the stock, fewer ranks have to do."""

WIDEST_FRONTIER = 12
"""Parts that may be shared at one time between classes looked at and classes still to come."""

Parts = Mapping[int, frozenset[int]]
"""The parts that may serve each class."""


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """One class: its parts and those shared before it, and which of them are shared after it."""

    item: int
    own: frozenset[int]
    before: tuple[int, ...]
    joint: tuple[int, ...]
    after: tuple[int, ...]


class DemandTotals:
    """Demands of classes, and of several together, without what has a negligible chance."""

    def __init__(self, demands: Sequence[LeadTimeDemand], negligible: float = NEGLIGIBLE_CHANCE) -> None:
        self.negligible = negligible
        self._of_one = [of_note(whole_pmf(demand), negligible) for demand in demands]
        self._of_many: dict[tuple[int, ...], FloatArray] = {(): np.ones(1)}

    def of(self, item: int) -> FloatArray:
        return self._of_one[item]

    def most(self, items: tuple[int, ...]) -> int:
        """Pieces that they may need together."""
        return len(self.total(items)) - 1

    def total(self, items: tuple[int, ...]) -> FloatArray:
        """Their demand together; quick where that of those from the second on was looked at before."""
        first = next(n for n in range(len(items) + 1) if items[n:] in self._of_many)
        for n in reversed(range(first)):
            total = np.convolve(self._of_many[items[n + 1 :]], self._of_one[items[n]])
            self._of_many[items[n:]] = of_note(total, self.negligible)
        return self._of_many[items]


def whole_pmf(demand: LeadTimeDemand) -> FloatArray:
    """Its chances, with the left-out tail at the upper end."""
    pmf = np.array(demand.pmf)
    pmf[-1] += max(0.0, 1.0 - float(pmf.sum()))
    return pmf


def of_note(pmf: FloatArray, negligible: float = NEGLIGIBLE_CHANCE) -> FloatArray:
    """Cut where a larger demand has a negligible chance, which stays at the upper end."""
    return up_to(pmf, max(int(np.count_nonzero(at_least(pmf) > negligible)) - 1, 0))


def up_to(pmf: FloatArray, most: int) -> FloatArray:
    """All above as one chance at the upper end."""
    return pmf if pmf.size <= most + 1 else np.append(pmf[:most], pmf[most:].sum())


def at_least(pmf: FloatArray) -> FloatArray:
    """Chances of so many or more, summed from the far end: small ones keep their digits."""
    return np.cumsum(pmf[::-1])[::-1]


def scarce(stock: Sequence[int], parts: Parts, totals: DemandTotals) -> Parts:
    """Without the classes that may take a part of which there is more than all who may take it need."""
    waiting = {item: frozenset(part for part in own if stock[part] > 0) for item, own in parts.items()}
    while True:
        served = {
            item
            for part, items in _takers(waiting).items()
            if stock[part] > totals.most(items)
            for item in items
        }
        if not served:
            return waiting
        waiting = {item: own for item, own in waiting.items() if item not in served}


def _takers(parts: Parts) -> dict[int, tuple[int, ...]]:
    found: dict[int, list[int]] = defaultdict(list)
    for item, own in sorted(parts.items()):
        for part in own:
            found[part].append(item)
    return {part: tuple(items) for part, items in sorted(found.items())}


def linked(parts: Parts) -> list[Parts]:
    """Classes linked by common parts, each set by itself, in the order of their lowest class."""
    waiting = dict(sorted(parts.items()))
    found: list[Parts] = []
    while waiting:
        group = nearest(parts, next(iter(waiting)))
        found.append({item: waiting.pop(item) for item in sorted(group)})
    return found


def nearest(parts: Parts, item: int) -> list[int]:
    """All that are linked with a class, by the steps to them; itself first."""
    takers, found = _takers(parts), [item]
    seen, parts_seen = {item}, set[int]()
    for one in found:
        for part in sorted(parts[one] - parts_seen):
            fresh = [other for other in takers[part] if other not in seen]
            seen.update(fresh)
            found += fresh
        parts_seen |= parts[one]
    return found


class Sweep:
    """Serves the classes of one component in turn, `last` at the end.

    A state is the rank function of what is left: for every set T of shared parts, how much more could be
    served from T together with all that served classes hold, h(T) = min over served classes U of
    stock(N(U) or T) - served(U). States that agree on it are one, up to what the classes to come may need of T.
    """

    def __init__(
        self, stock: Sequence[int], parts: Parts, totals: DemandTotals, *, last: int | None = None
    ) -> None:
        self.stock, self.totals, self.last = stock, totals, last
        self.steps = _order(parts, last)
        self.states = 0
        """Most that were carried along."""

    def run(self) -> tuple[float, float]:
        """Expected pieces served, and the chance that all are."""
        served = 0.0
        ranks, weights = np.zeros((1, 1), dtype=np.int64), np.ones((1, 2))
        for step, limits in zip(self.steps, self._limits(), strict=True):
            ranks, weights, more = self._serve(step, limits, ranks, weights)
            served += more
        return served, float(weights[:, 1].sum())

    def left(self) -> tuple[FloatArray, float]:
        """Chances of 0, 1, 2, … pieces for the last class once all others are served; at the upper end of more than it needs.

        Beside it the chance of what was left out, which may have left any number of pieces.
        """
        *earlier, final = self.steps
        ranks, weights, left_out, work = np.zeros((1, 1), dtype=np.int64), np.ones((1, 2)), 0.0, MOST_WORK
        for at, (step, limits) in enumerate(zip(earlier, self._limits(), strict=False)):
            work -= len(ranks) * self._work(step)
            ranks, weights, _ = self._serve(step, limits, ranks, weights)
            affordable = work // (len(earlier) - at) // self._work(self.steps[at + 1])
            most = max(min(MOST_RANKS >> len(step.after), affordable), 1)
            likely, lost = _likeliest(weights[:, 0], most, self.totals.negligible)
            ranks, weights, left_out = ranks[likely], weights[likely], left_out + lost
        room = self._extended(final, ranks)[:, _mask(final.own, final.joint)]
        most = self._needed((final,))
        found = np.bincount(np.minimum(room, most), weights=weights[:, 0], minlength=most + 1)
        return np.asarray(found, dtype=np.float64), left_out

    def _work(self, step: _Step) -> int:
        """Of one rank: every number of pieces for each set of shared parts."""
        return len(self.totals.of(step.item)) << len(step.joint)

    def _limits(self) -> list[IntArray]:
        """After each step, for every set of shared parts, what the classes to come may need of it."""
        found = []
        for at, step in reversed(list(enumerate(self.steps))):
            later = [(one, _mask(one.own, step.after)) for one in self.steps[at + 1 :]]
            needed = [
                self._needed(one for one, own in later if own & chosen)
                for chosen in range(1 << len(step.after))
            ]
            found.append(np.array(needed, dtype=np.int64))
        return found[::-1]

    def _needed(self, steps: Iterable[_Step]) -> int:
        """One piece more where the last class is among them: whether it is there is the question."""
        items = tuple(step.item for step in steps)
        return self.totals.most(items) + (self.last in items)

    def _serve(
        self, step: _Step, limits: IntArray, ranks: IntArray, weights: FloatArray
    ) -> tuple[IntArray, FloatArray, float]:
        joint, pmf = self._extended(step, ranks), self.totals.of(step.item)
        above = at_least(pmf)
        own = _mask(step.own, step.joint)
        room = joint[:, own]
        kept = _placed(step.after, step.joint)
        reached = kept | own
        next_ranks, next_weights, served = [], [], 0.0
        for pieces in range(min(int(room.max()), len(pmf) - 1) + 1):
            open_ = room >= pieces
            full = room[open_] == pieces
            exact = float(pmf[pieces])
            chance = np.where(full, above[pieces], exact)
            served += pieces * float(np.dot(weights[open_, 0], chance))
            left = np.minimum(joint[open_][:, kept], joint[open_][:, reached] - pieces)
            next_ranks.append(np.minimum(left, limits))
            next_weights.append(weights[open_] * np.stack([chance, np.full(len(full), exact)], axis=1))
        states, sums = _merged(np.concatenate(next_ranks), np.concatenate(next_weights), limits)
        self.states = max(self.states, len(states))
        return states, sums, served

    def _extended(self, step: _Step, ranks: IntArray) -> IntArray:
        """The rank function on the parts shared so far and those that this class brings in."""
        fresh = np.zeros(1 << len(step.joint), dtype=np.int64)
        for at, part in enumerate(step.joint):
            if part not in step.before:
                fresh += (np.arange(len(fresh)) >> at & 1) * self.stock[part]
        return np.asarray(ranks[:, _placed(step.joint, step.before)] + fresh)


def _order(parts: Parts, last: int | None) -> list[_Step]:
    """Classes in an order that keeps few parts shared: next always the one that leaves the fewest."""
    steps: list[_Step] = []
    waiting = dict(sorted(parts.items()))
    before: tuple[int, ...] = ()

    left = Counter(part for own in parts.values() for part in own)

    def shared_after(item: int) -> list[int]:
        own = waiting[item]
        return sorted(part for part in own.union(before) if left[part] > (part in own))

    while waiting:
        candidates: Collection[int] = waiting.keys() - {last} or waiting.keys()
        item = min(candidates, key=lambda candidate: (len(shared_after(candidate)), candidate))
        after = tuple(shared_after(item))
        own = waiting.pop(item)
        left.subtract(own)
        joint = tuple(sorted(frozenset(before) | own))
        if len(joint) > WIDEST_FRONTIER:
            raise ValueError(
                f"`covers` must not share more than {WIDEST_FRONTIER} parts at a time, got {len(joint)}"
            )
        steps.append(_Step(item, own, before, joint, after))
        before = after
    return steps


def _merged(ranks: IntArray, weights: FloatArray, limits: IntArray) -> tuple[IntArray, FloatArray]:
    alive = weights[:, 0] > 0
    ranks, weights = ranks[alive], weights[alive]
    if np.log2(limits + 1.0).sum() < 62:
        # Each state as one number: far quicker to sort.
        steps = np.cumprod(np.append(1, limits[:-1] + 1))
        _, first, place = np.unique(ranks @ steps, return_index=True, return_inverse=True)
        states = ranks[first]
    else:
        states, place = np.unique(ranks, axis=0, return_inverse=True)
    if len(states) > MOST_STATES:
        raise ValueError(f"`stock` must not leave more than {MOST_STATES:,} states, got {len(states):,}")
    sums = [np.bincount(place.ravel(), weights=one) for one in weights.T]
    return states, np.stack(sums, axis=1)


def _likeliest(chances: FloatArray, most: int, unseen: float) -> tuple[NDArray[np.bool_], float]:
    """Without the least likely that are negligible together, and without those beyond `most`; the chance of the latter."""
    order = np.argsort(chances)
    negligible = int(np.count_nonzero(np.cumsum(chances[order]) <= unseen))
    few = max(len(order) - most, negligible)
    likely = np.ones(len(order), dtype=np.bool_)
    likely[order[:few]] = False
    return likely, float(chances[order[negligible:few]].sum())


def _mask(chosen: frozenset[int], parts: tuple[int, ...]) -> int:
    return sum(1 << index for index, part in enumerate(parts) if part in chosen)


def _placed(parts: tuple[int, ...], among: tuple[int, ...]) -> IntArray:
    """Every set of parts as the set of those of them that are among others."""
    sets = np.arange(1 << len(parts), dtype=np.int64)
    found = np.zeros_like(sets)
    for at, part in enumerate(parts):
        if part in among:
            found |= (sets >> at & 1) << among.index(part)
    return found

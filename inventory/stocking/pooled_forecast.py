"""The recommended rule: a pooled mixture of rates and spreads, its promise checked against its own past.

1. Demand per period is negative binomial with an item's own mean and size. The prior over both is a set of weights on a grid,
   fitted to all items together (non-parametric empirical Bayes), so that an item without demand gets a fair distribution from
   comparable ones. Source: Laird 1978, J. Am. Stat. Assoc. 73.
2. Older periods count less. The discount is chosen by the logarithmic score of past predictions. Source: Good 1952,
   J. Royal Stat. Soc. B 14.
3. The promise is set on past origins: the level at which earlier predictions, made the same way, would have reached the target
   over all items. What the promise missed or exceeded at each of them is made up for at the next ones, so that it holds over
   time. It is a promise for the items together, not for each one of them. Source: conformal inference that adapts, Gibbs & Candès
   2021, Advances in Neural Information Processing Systems 34 (from memory).

Nothing after the origin is used. With too few past windows to judge a target, the distribution's own level is used.
"""

from dataclasses import dataclass
from hashlib import sha256

import numpy as np
from scipy import special

from inventory.array_checks import FloatArray, IntArray
from inventory.stocking.predictions import window_sums

DISCOUNTS = (1.0, 0.98, 0.96, 0.94, 0.92, 0.9, 0.87)
"""Weights of a period against the next later one that are tried: half-lives from none to five periods."""

FIRST_PAST_ORIGIN = 12
"""Periods that a past prediction has to stand on, a year of months."""

MISSES_TO_JUDGE = 10
"""Expected misses among past windows from which a target is set on them."""

GAIN = 0.5
"""Share of what a promise owes that the next origin makes up for. Chosen on every second row of the car parts; the other rows, an
unseen plant and the demo plant were replayed with it once."""

FEWEST_MISSES, MOST_MISSES = 0.1, 2.0
"""Bounds of the misses aimed at, as shares of those that the promise allows: own choice, no source."""

RATE_STEP = 1.4
"""Ratio of neighbouring rates on the grid; on the car parts 1.2 changed no service by more than 0.1 points."""

SIZES = np.array([0.02, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 4.0, 20.0])
"""Negative binomial sizes per period on the grid, from very lumpy to nearly Poisson."""

LOWEST_EVENTS = 0.1
"""Pieces in the whole history at the lowest rate on the grid."""

HIGHEST_SHARE = 1.5
"""The highest rate on the grid against the largest mean over one exposure."""

PRIOR_ROUNDS = 60
"""Rounds of expectation and maximisation; on the car parts two hundred moved no service by more than 0.2 points."""

PRIOR_ITEMS = 5000
"""Items, evenly spread, on which the prior is fitted."""

ITEMS_AT_ONCE = 2000
"""Items whose chances are worked out in one pass."""

MOST_COUNTED = 1 << 16
"""Numbers up to which occurrences are counted instead of sorted."""

MOST_STOCK = 1 << 20
"""Stock at which the search for a level ends."""


@dataclass(frozen=True, slots=True, eq=False)
class MixturePrediction:
    """Weights of every item on the grid of distributions over one exposure."""

    weights: FloatArray
    mean: FloatArray
    size: FloatArray

    def stock(self, level: float) -> IntArray:
        """Smallest stock with P(demand <= stock) >= level."""
        stock = np.empty(len(self.weights), dtype=np.int64)
        for start in range(0, len(stock), ITEMS_AT_ONCE):
            part = slice(start, start + ITEMS_AT_ONCE)
            stock[part] = self._stock(self.weights[part], level)
        return stock

    def _stock(self, weights: FloatArray, level: float) -> IntArray:
        stock = np.full(len(weights), MOST_STOCK, dtype=np.int64)
        open_, most = np.arange(len(weights)), 64
        while len(open_) and most <= MOST_STOCK:
            short = weights[open_] @ self._grid_within(most) < level
            found = ~short[:, -1]
            stock[open_[found]] = short[found].sum(axis=1)
            open_, most = open_[~found], 4 * most
        return stock

    def within(self, most: int) -> FloatArray:
        return np.asarray(self.weights @ self._grid_within(most))

    def chances_of(self, demand: IntArray) -> tuple[FloatArray, FloatArray]:
        """Item by item the chances of less than a demand, and of exactly it."""
        grid = self._grid_within(int(demand.max(initial=0)))
        reached = np.einsum("ig,gi->i", self.weights, grid[:, demand])
        before = np.einsum("ig,gi->i", self.weights, np.where(demand > 0, grid[:, demand - 1], 0.0))
        return before, reached - before

    def _grid_within(self, most: int) -> FloatArray:
        chances = np.exp(_log_chance_of(self.mean, self.size, np.arange(most + 1)))
        return np.asarray(np.minimum(np.cumsum(chances, axis=1), 1.0))


@dataclass(frozen=True, slots=True, eq=False)
class CalibratedPrediction:
    """A mixture whose level for a target is the one that past predictions needed."""

    mixture: MixturePrediction
    discount: float
    needed: tuple[FloatArray, ...]
    """P(less than the demand) of each item at each past origin, the oldest first: a level above it would have served it."""

    def level(self, target: float) -> float:
        """Level of the mixture that stands for the target, half of what the promise still owes from past origins added."""
        owed, seen = 0.0, np.empty(0)
        for needed in self.needed:
            owed += target - float((needed < _level(seen, target, owed)).mean())
            seen = np.concatenate([seen, needed])
        return _level(seen, target, owed)

    def stock(self, target: float) -> IntArray:
        return self.mixture.stock(self.level(target))

    def within(self, most: int) -> FloatArray:
        return self.mixture.within(most)


class RecommendedRule:
    """The rule, with a cache of past predictions so that each is worked out once.

    The cache is keyed by the very history that was shown: it holds nothing that a fresh rule would not find.
    """

    def __init__(self) -> None:
        self._past: dict[tuple[str, int, float], tuple[float, FloatArray]] = {}

    def __call__(self, history: FloatArray, exposure: int) -> CalibratedPrediction:
        """`history` holds whole pieces."""
        origins = range(history.shape[1] - exposure, FIRST_PAST_ORIGIN - 1, -exposure)
        if not origins or not len(history):
            return CalibratedPrediction(fit_mixture(history, exposure, 1.0), 1.0, ())
        keys = _digests(history)
        tried = {
            discount: [self._judged(history, at, exposure, discount, keys[at + exposure]) for at in origins]
            for discount in DISCOUNTS
        }
        discount = min(DISCOUNTS, key=lambda one: float(np.mean([score for score, _ in tried[one]])))
        needed = tuple(levels for _, levels in reversed(tried[discount]))
        return CalibratedPrediction(fit_mixture(history, exposure, discount), discount, needed)

    def _judged(
        self, history: FloatArray, origin: int, exposure: int, discount: float, shown: str
    ) -> tuple[float, FloatArray]:
        """Log score and levels needed of the prediction made at a past origin; `shown` is a digest of what it saw."""
        key = shown, exposure, discount
        if key not in self._past:
            demand = history[:, origin : origin + exposure].sum(axis=1).astype(np.int64)
            before, exactly = fit_mixture(history[:, :origin], exposure, discount).chances_of(demand)
            score = float(-np.log(np.maximum(exactly, np.finfo(np.float64).tiny)).mean())
            self._past[key] = score, before
        return self._past[key]


def _level(seen: FloatArray, target: float, owed: float) -> float:
    """What would have served the share aimed at; with too few misses among past windows to judge it, the target itself."""
    if len(seen) * (1 - target) < MISSES_TO_JUDGE:
        return target
    miss = 1 - target
    aim = min(max(target + GAIN * owed, 1 - miss * MOST_MISSES), 1 - miss * FEWEST_MISSES)
    rank = min(int(np.ceil(aim * (len(seen) + 1))), len(seen)) - 1
    return float(np.nextafter(np.partition(seen, rank)[rank], 1.0))


def _digests(history: FloatArray) -> list[str]:
    """A digest of the record up to each period, all of them in one pass."""
    digest = sha256(str(len(history)).encode())
    digests = [digest.hexdigest()]
    for column in history.T:
        digest.update(column.tobytes())
        digests.append(digest.hexdigest())
    return digests


def fit_mixture(history: FloatArray, exposure: int, discount: float) -> MixturePrediction:
    """Weights of every item on the grid for its next `exposure` periods, after a prior fitted to all of them."""
    mean, size = _grid(history, exposure)
    logs = _log_likelihoods(history, mean, size, discount)
    likelihoods = np.exp(logs - logs.max(axis=1, keepdims=True))
    prior = _prior(likelihoods[:: max(1, -(-len(history) // PRIOR_ITEMS))])
    weights = likelihoods * prior
    weights /= weights.sum(axis=1, keepdims=True)
    return MixturePrediction(weights, mean * exposure, size * exposure)


def _grid(history: FloatArray, exposure: int) -> tuple[FloatArray, FloatArray]:
    periods = history.shape[1]
    span = min(exposure, periods)
    lowest = LOWEST_EVENTS / periods
    highest = max(HIGHEST_SHARE * float(window_sums(history, span).max()) / span, 10 * lowest)
    steps = int(np.ceil(np.log(highest / lowest) / np.log(RATE_STEP))) + 1
    mean, size = np.meshgrid(np.geomspace(lowest, highest, steps), SIZES, indexing="ij")
    return mean.ravel(), size.ravel()


def _log_likelihoods(history: FloatArray, mean: FloatArray, size: FloatArray, discount: float) -> FloatArray:
    """Log likelihood of each record at each point of the grid, a period's share falling with its age."""
    ages = discount ** np.arange(history.shape[1] - 1, -1, -1)
    values, place = _distinct(history.astype(np.int64))
    cells = np.arange(len(history))[:, None] * len(values) + place
    weights = np.broadcast_to(ages, history.shape)
    seen = np.bincount(cells.ravel(), weights.ravel(), minlength=len(history) * len(values))
    return np.asarray(seen.reshape(len(history), len(values)) @ _log_chance_of(mean, size, values).T)


def _distinct(pieces: IntArray) -> tuple[IntArray, IntArray]:
    """The numbers that occur, in order, and the place of each entry among them."""
    if pieces.size and pieces.max() > MOST_COUNTED:
        values, place = np.unique(pieces, return_inverse=True)
        return values, np.asarray(place).reshape(pieces.shape)
    occurs = np.bincount(pieces.ravel()) > 0
    return np.flatnonzero(occurs), (np.cumsum(occurs) - 1)[pieces]


def _prior(likelihoods: FloatArray) -> FloatArray:
    prior = np.full(likelihoods.shape[1], 1 / likelihoods.shape[1])
    for _ in range(PRIOR_ROUNDS):
        prior = prior * (likelihoods.T @ (1 / (likelihoods @ prior))) / len(likelihoods)
    return np.asarray(prior / prior.sum())


def _log_chance_of(mean: FloatArray, size: FloatArray, values: IntArray) -> FloatArray:
    size, mean = size[:, None], mean[:, None]
    rising = special.gammaln(values + size) - special.gammaln(size) - special.gammaln(values + 1)
    return np.asarray(rising - size * np.log1p(mean / size) - values * np.log1p(size / mean))

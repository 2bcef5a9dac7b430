"""Replay of a history: what a rule would have held at each past origin, and what demand then came.

Rolling origin: Tashman 2000, International Journal of Forecasting 16. Achieved service rather than forecast errors: Teunter &
Duncan 2009, J. Oper. Res. Soc. 60.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from inventory.array_checks import FloatArray, IntArray
from inventory.progress import Progress, counted, stretches, unreported
from inventory.stocking.forecast_rules import ForecastRule
from inventory.stocking.forecast_scores import mean_pit_histogram, ranked_probability_score
from inventory.stocking.predictions import Prediction

FULL_CHANCE = 1e-6
"""Chances beyond the largest demand are scored until this much is left of every item, up to the limit below."""

MOST_PIECES_SCORED = 1024
"""Pieces up to which predicted chances are scored."""


@dataclass(frozen=True, slots=True)
class RuleOutcome:
    """One rule at one target over all origins.

    `cycle_service_level` is the share of item windows without a shortage, `fill_rate` the share of the demand that was on the
    shelf, `mean_leftover` the pieces left per item window, `mean_spend` the money in the stock at the start of a window, per
    item (pieces, where no prices were given).
    """

    rule: str
    target: float
    cycle_service_level: float
    fill_rate: float
    mean_leftover: float
    mean_spend: float
    service_by_origin: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Calibration:
    """Mean ranked probability score of a rule's predictions and their PIT histogram (flat is right)."""

    rule: str
    mean_score: float
    pit: tuple[float, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Replay:
    """A record (items by periods) and the origins at which a rule predicts; it is shown the periods before each, no others."""

    demand: FloatArray
    first_origin: int
    exposure: int
    step: int

    def __post_init__(self) -> None:
        if not self.origins or not len(self.demand):
            raise ValueError("`demand` must have an item, and periods enough for one origin")

    @property
    def origins(self) -> range:
        return range(self.first_origin, self.demand.shape[1] - self.exposure + 1, self.step)

    def demand_after(self, origin: int) -> IntArray:
        return np.asarray(self.demand[:, origin : origin + self.exposure].sum(axis=1), dtype=np.int64)

    def predictions(self, rule: ForecastRule, progress: Progress = unreported) -> list[Prediction]:
        origins = counted(self.origins, progress)
        return [rule(self.demand[:, :origin].copy(), self.exposure) for origin in origins]

    def outcomes(
        self,
        rules: Mapping[str, ForecastRule],
        targets: Sequence[float],
        prices: FloatArray | None = None,
        *,
        progress: Progress = unreported,
    ) -> list[RuleOutcome]:
        """ForecastRule by rule and target by target; `prices` of one piece of each item."""
        found = []
        parts = stretches(progress, *(1 for _ in rules))
        for (name, rule), told in zip(rules.items(), parts, strict=True):
            predictions = self.predictions(rule, told)
            found += [self._outcome(name, target, predictions, prices) for target in targets]
        return found

    def calibrations(
        self, rules: Mapping[str, ForecastRule], progress: Progress = unreported
    ) -> list[Calibration]:
        parts = stretches(progress, *(1 for _ in rules))
        return [
            self._calibration(name, rule, told)
            for (name, rule), told in zip(rules.items(), parts, strict=True)
        ]

    def _outcome(
        self, rule: str, target: float, predictions: Sequence[Prediction], prices: FloatArray | None
    ) -> RuleOutcome:
        stock = np.stack([prediction.stock(target) for prediction in predictions])
        demand = np.stack([self.demand_after(origin) for origin in self.origins])
        total = demand.sum()
        return RuleOutcome(
            rule=rule,
            target=target,
            cycle_service_level=float((stock >= demand).mean()),
            fill_rate=float(np.minimum(stock, demand).sum() / total) if total else 1.0,
            mean_leftover=float(np.maximum(stock - demand, 0).mean()),
            mean_spend=float((stock if prices is None else stock * prices).mean()),
            service_by_origin=tuple(float(value) for value in (stock >= demand).mean(axis=1)),
        )

    def _calibration(self, name: str, rule: ForecastRule, progress: Progress) -> Calibration:
        scores, pits = [], []
        for origin, prediction in zip(self.origins, self.predictions(rule, progress), strict=True):
            demand = self.demand_after(origin)
            chances = _chances(prediction, int(demand.max()))
            scores.append(ranked_probability_score(chances, demand).mean())
            pits.append(mean_pit_histogram(chances, demand))
        pit = tuple(float(value) for value in np.mean(pits, axis=0))
        return Calibration(name, float(np.mean(scores)), pit)


def _chances(prediction: Prediction, largest: int) -> FloatArray:
    most = max(64, 2 * largest)
    chances = prediction.within(most)
    while chances[:, -1].min() < 1 - FULL_CHANCE and most < MOST_PIECES_SCORED:
        most *= 2
        chances = prediction.within(most)
    return chances

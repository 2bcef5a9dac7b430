"""Replay of a history: what a rule of the day would have held, and what then was asked for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from inventory.array_checks import FloatArray, demand_matrix, not_negative_array
from inventory.number_checks import fraction, not_negative, whole
from inventory.stocking.forecast_rules import Rule
from inventory.stocking.forecast_scores import mean_pit_histogram, ranked_probability_score
from inventory.stocking.predictions import Prediction

FULL_CHANCE = 1e-6
"""Chances beyond the largest demand are scored until this much is left of every item, up to the limit below."""

MOST_PIECES_SCORED = 1024
"""Pieces up to which a predicted law is scored."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One rule at one target over all origins.

    `cycle_service_level` is the share of item windows without a shortage, `fill_rate` the share of pieces asked
    for that were there, `mean_leftover` the pieces left per item window, `mean_spend` the money in the
    stock at the start of a window, per item (pieces, where no prices were given). `service_by_origin` shows how
    the service moved from one origin to the next.
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
    """Mean ranked probability score of a rule's laws and their PIT histogram (flat is right)."""

    rule: str
    mean_score: float
    pit: tuple[float, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Replay:
    """A record and the origins at which a rule has to speak; it is shown the periods before each, no others."""

    demand: FloatArray
    first_origin: int
    exposure: int
    step: int

    @property
    def origins(self) -> range:
        return range(self.first_origin, self.demand.shape[1] - self.exposure + 1, self.step)

    def asked(self, origin: int) -> FloatArray:
        return np.asarray(self.demand[:, origin : origin + self.exposure].sum(axis=1))

    def predictions(self, rule: Rule) -> list[Prediction]:
        return [rule(self.demand[:, :origin].copy(), self.exposure) for origin in self.origins]


def replay(demand: ArrayLike, *, first_origin: int, exposure: int, step: int) -> Replay:
    """The set-up of a back-test.

    Parameters
    ----------
    demand : array_like, shape (items, periods)
        Pieces asked for per period; items without demand stay in.
    first_origin : int
        Periods that the first prediction may use.
    exposure : int
        Periods of lead time and review that each prediction is for.
    step : int
        Periods from one origin to the next.

    Returns
    -------
    Replay
        With at least one origin.

    Raises
    ------
    ValueError
        If a figure is out of range or the record too short.

    Source
    ------
    Rolling origin: Tashman 2000, International Journal of Forecasting 16.

    Examples
    --------
    >>> list(replay([[0, 1, 0, 0, 2, 0]], first_origin=2, exposure=2, step=1).origins)
    [2, 3, 4]
    """
    record = demand_matrix("demand", demand)
    setting = Replay(
        record,
        whole("first_origin", first_origin, least=1),
        whole("exposure", exposure, least=1),
        whole("step", step, least=1),
    )
    if not setting.origins or not len(record):
        raise ValueError("`demand` must have an item, and periods enough for one origin")
    return setting


def backtest(
    setting: Replay,
    rules: Mapping[str, Rule],
    targets: Sequence[float],
    unit_costs: ArrayLike | None = None,
) -> list[Outcome]:
    """What each rule would have achieved at each target.

    Parameters
    ----------
    setting : Replay
        Record and origins.
    rules : mapping of str to rule
        Rules by name.
    targets : sequence of float, in (0, 1)
        Promised cycle service levels; several make a curve, since rules of different service are not
        comparable at one point.
    unit_costs : array_like, optional
        Price of one piece of each item.

    Returns
    -------
    list of Outcome
        Rule by rule, target by target.

    Raises
    ------
    ValueError
        If a target or a price is out of range.

    Source
    ------
    Protocol: Teunter & Duncan 2009, J. Oper. Res. Soc. 60 (achieved service rather than forecast errors).

    Examples
    --------
    >>> from inventory.stocking.forecast_rules import poisson_last_year
    >>> setting = replay([[0, 1, 0, 1, 0, 1]], first_origin=4, exposure=2, step=1)
    >>> backtest(setting, {"last year": poisson_last_year}, [0.9])[0].cycle_service_level
    1.0
    """
    items = len(setting.demand)
    prices = np.ones(items) if unit_costs is None else not_negative_array("unit_costs", unit_costs)
    if prices.shape != (items,):
        raise ValueError(f"`unit_costs` must hold an entry per item, {items}")
    outcomes = []
    for name, rule in rules.items():
        predictions = setting.predictions(rule)
        for target in targets:
            outcomes.append(_outcome(name, fraction("targets", target), setting, predictions, prices))
    return outcomes


def calibration(setting: Replay, rules: Mapping[str, Rule], bins: int = 10) -> list[Calibration]:
    """Ranked probability score and PIT of the laws that each rule predicts.

    Parameters
    ----------
    setting : Replay
        Record and origins.
    rules : mapping of str to rule
        Rules by name.
    bins : int
        Bins of the PIT histogram.

    Returns
    -------
    list of Calibration
        Rule by rule.

    Raises
    ------
    ValueError
        If `bins` is out of range.

    Source
    ------
    Czado, Gneiting & Held 2009, Biometrics 65.

    Examples
    --------
    >>> from inventory.stocking.forecast_rules import poisson_last_year
    >>> setting = replay([[0, 1, 0, 1, 0, 1]], first_origin=4, exposure=2, step=1)
    >>> round(calibration(setting, {"last year": poisson_last_year})[0].mean_score, 4)
    0.212
    """
    results = []
    for name, rule in rules.items():
        scores, pits = [], []
        for origin, prediction in zip(setting.origins, setting.predictions(rule), strict=True):
            asked = setting.asked(origin)
            chances = _chances(prediction, int(asked.max()))
            scores.append(ranked_probability_score(chances, asked).mean())
            pits.append(mean_pit_histogram(chances, asked, bins))
        pit = tuple(float(value) for value in np.mean(pits, axis=0))
        results.append(Calibration(name, float(np.mean(scores)), pit))
    return results


def leftover_at(outcomes: Sequence[Outcome], service: float) -> float | None:
    """Leftover of one rule at an achieved service, read off its curve between two targets.

    Parameters
    ----------
    outcomes : sequence of Outcome
        One rule at several targets.
    service : float, in [0, 1]
        Achieved cycle service level.

    Returns
    -------
    float or None
        None where the curve does not reach that far.

    Raises
    ------
    ValueError
        If `service` is out of range.

    Source
    ------
    Linear interpolation.

    Examples
    --------
    >>> leftover_at([], 0.95) is None
    True
    """
    wanted = not_negative("service", service, most=1.0)
    curve = sorted((outcome.cycle_service_level, outcome.mean_leftover) for outcome in outcomes)
    if not curve or not curve[0][0] <= wanted <= curve[-1][0]:
        return None
    services, leftovers = zip(*curve, strict=True)
    return float(np.interp(wanted, services, leftovers))


def _outcome(
    name: str, target: float, setting: Replay, predictions: Sequence[Prediction], prices: FloatArray
) -> Outcome:
    stock = np.stack([prediction.stock(target) for prediction in predictions])
    asked = np.stack([setting.asked(origin) for origin in setting.origins])
    total = asked.sum()
    return Outcome(
        rule=name,
        target=target,
        cycle_service_level=float((stock >= asked).mean()),
        fill_rate=float(np.minimum(stock, asked).sum() / total) if total else 1.0,
        mean_leftover=float(np.maximum(stock - asked, 0).mean()),
        mean_spend=float((stock * prices).mean()),
        service_by_origin=tuple(float(value) for value in (stock >= asked).mean(axis=1)),
    )


def _chances(prediction: Prediction, largest: int) -> FloatArray:
    most = max(64, 2 * largest)
    chances = prediction.within(most)
    while chances[:, -1].min() < 1 - FULL_CHANCE and most < MOST_PIECES_SCORED:
        most *= 2
        chances = prediction.within(most)
    return chances

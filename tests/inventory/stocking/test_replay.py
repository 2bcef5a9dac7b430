from functools import cache

import numpy as np
import pytest
from scipy import stats

from inventory.stocking.backtest import binomial_interval
from inventory.stocking.forecast_rules import (
    SIMPLE_RULES,
    pooled_prior,
)
from inventory.stocking.pooled_forecast import RecommendedRule, fit_mixture
from inventory.stocking.replay import Replay
from tests.inventory.stocking.published import car_parts, simple_rule_results
from tests.inventory.stocking.unseen_plant import unseen_plant

SETTING = {"first_origin": 24, "exposure": 3, "step": 3}
TARGETS = (0.9, 0.95, 0.99)
WITHIN = 0.02
CURVE = (0.7, 0.8, 0.85, 0.9, 0.92, 0.95, 0.97, 0.98, 0.99, 0.995, 0.998, 0.999, 0.9995, 0.9999)


@cache
def car_replay():
    return Replay(car_parts(), first_origin=24, exposure=3, step=3)


@cache
def recommended():
    return car_replay().outcomes({"recommended": RecommendedRule()}, TARGETS)


def leftover_at(outcomes, service):
    """Leftover of one rule at an achieved service, between two targets of its curve; None where the curve ends before."""
    curve = sorted((outcome.cycle_service_level, outcome.mean_leftover) for outcome in outcomes)
    if not curve[0][0] <= service <= curve[-1][0]:
        return None
    services, leftovers = zip(*curve, strict=True)
    return float(np.interp(service, services, leftovers))


@pytest.mark.parametrize("rule", SIMPLE_RULES)
def test_simple_rules_reproduce_their_published_replay(rule):
    for outcome in car_replay().outcomes({rule: SIMPLE_RULES[rule]}, TARGETS):
        expected = simple_rule_results()[rule, outcome.target]
        assert outcome.cycle_service_level == pytest.approx(
            float(expected["achieved_cycle_service"]), rel=1e-12
        )
        assert outcome.fill_rate == pytest.approx(float(expected["achieved_fill_rate"]), rel=1e-12)
        assert outcome.mean_leftover == pytest.approx(float(expected["mean_leftover_units"]), rel=1e-12)


def test_the_recommended_rule_keeps_its_promise():
    for outcome in recommended():
        assert outcome.cycle_service_level == pytest.approx(outcome.target, abs=WITHIN)


@pytest.mark.parametrize(
    "record",
    [
        pytest.param(lambda: car_parts()[::2], id="car parts held back"),
        pytest.param(unseen_plant, id="unseen plant"),
    ],
)
def test_promise_and_achievement_agree_on_records_that_were_not_looked_at(record):
    # The rule was chosen on the other rows of the car parts; of both records here neither items nor figures were looked at.
    replay = Replay(record(), **SETTING)
    windows = len(replay.demand) * len(replay.origins)
    for outcome in replay.outcomes({"recommended": RecommendedRule()}, TARGETS):
        low, high = binomial_interval(outcome.cycle_service_level, windows)
        assert low <= outcome.target <= high


def test_it_leaves_less_over_than_any_simple_rule_at_equal_service():
    curves = {rule: car_replay().outcomes({rule: SIMPLE_RULES[rule]}, CURVE) for rule in SIMPLE_RULES}
    for outcome in recommended():
        at_equal = [leftover_at(curve, outcome.cycle_service_level) for curve in curves.values()]
        best = min(leftover for leftover in at_equal if leftover is not None)
        assert outcome.mean_leftover <= 0.85 * best


def test_it_never_looks_ahead():
    demand = car_parts()[:300]
    changed = demand.copy()
    changed[:, 36:] = 50
    for origin in (30, 36):
        first, second = (RecommendedRule()(record[:, :origin], 3) for record in (demand, changed))
        assert (first.stock(0.95) == second.stock(0.95)).all()


def test_its_cache_changes_nothing():
    demand = car_parts()[::10]
    kept = RecommendedRule()
    for origin in (24, 27, 30):
        fresh = RecommendedRule()(demand[:, :origin], 3)
        remembered = kept(demand[:, :origin], 3)
        assert all((one == other).all() for one, other in zip(fresh.needed, remembered.needed, strict=True))
        assert fresh.discount == remembered.discount
        assert (fresh.stock(0.95) == remembered.stock(0.95)).all()


def test_without_a_past_the_level_is_the_target():
    prediction = RecommendedRule()(car_parts()[:200, :10], 3)
    assert (prediction.level(0.95), prediction.discount) == (0.95, 1.0)
    few = RecommendedRule()(car_parts()[:2, :20], 3)
    assert few.level(0.99) == 0.99


def test_an_item_without_demand_gets_a_fair_stock_from_comparable_items():
    demand = np.zeros((200, 24))
    demand[:100, ::4] = 2
    stock = fit_mixture(demand, 3, 1.0).stock(0.95)
    assert stock[0] >= 2
    assert 0 <= stock[-1] < stock[0]
    assert RecommendedRule()(np.zeros((5, 24)), 3).stock(0.9).tolist() == [0] * 5


def test_a_mixture_of_poisson_records_finds_their_distribution():
    random = np.random.default_rng(4)
    demand = random.poisson(0.8, (3000, 36)).astype(float)
    within = fit_mixture(demand, 3, 1.0).within(12).mean(axis=0)
    np.testing.assert_allclose(within, stats.poisson.cdf(np.arange(13), 2.4), atol=0.025)


def test_the_prior_of_equal_items_is_sharp():
    shape, prior = pooled_prior(np.tile([0.0, 1.0], (50, 12)))
    assert shape / prior == pytest.approx(0.5)
    assert prior == 1e6
    assert pooled_prior(np.zeros((3, 4)))[0] == 1.0


def test_windows_overlap_and_take_the_next_higher_sum():
    rule = SIMPLE_RULES["empirical window quantile"]
    assert rule(np.array([[0.0, 1, 0, 3, 0, 0]]), 3).stock(0.5).tolist() == [3]


def test_scores_prefer_the_mixture_and_show_its_calibration():
    replay = Replay(car_parts()[::5], first_origin=39, exposure=3, step=6)
    simple, best = replay.calibrations(
        {"simple": SIMPLE_RULES["NB all-history mean+var"], "recommended": RecommendedRule()}
    )
    assert best.mean_score < simple.mean_score
    assert np.abs(np.array(best.pit) - 0.1).max() < np.abs(np.array(simple.pit) - 0.1).max()


def test_spend_follows_the_prices():
    replay = Replay(car_parts()[:50], first_origin=48, exposure=3, step=3)
    rule = {"mean": SIMPLE_RULES["Poisson all-history mean"]}
    plain, priced = (replay.outcomes(rule, [0.9], prices)[0] for prices in (None, np.full(50, 7.0)))
    assert priced.mean_spend == pytest.approx(7 * plain.mean_spend)


def test_it_refuses_records_too_short():
    with pytest.raises(ValueError, match="`demand`"):
        Replay(np.array([[1.0, 2.0]]), first_origin=2, exposure=1, step=1)


def test_a_window_in_which_nothing_was_needed_is_scored():
    demand = np.zeros((5, 36))
    demand[:, 0] = 1
    (scored,) = Replay(demand, **SETTING).calibrations({"recommended": RecommendedRule()})
    assert 0 <= scored.mean_score < 0.1
    assert sum(scored.pit) == pytest.approx(1)

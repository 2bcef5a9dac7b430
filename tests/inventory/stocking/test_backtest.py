import math

import numpy as np
import pytest
from scipy import stats

from inventory.stocking.backtest import RECOMMENDED, binomial_interval, run_backtest, thinning
from inventory.stocking.forecast_rules import SIMPLE_RULES
from inventory.stocking.pooled_forecast import RecommendedRule
from inventory.stocking.replay import Replay
from tests.inventory.stocking.published import car_parts

SETTING = {"first_origin": 24, "exposure": 3, "step": 3}


@pytest.fixture(scope="module")
def parts():
    return car_parts()[::16]


def of(found, rule):
    return [promise for promise in found.promises if promise.rule == rule]


def reasons(found, code):
    return [dict(reason.values) for reason in found.reasons if reason.code == code]


@pytest.fixture(scope="module")
def found(parts):
    return run_backtest(parts, **SETTING)


def test_every_rule_is_replayed_at_every_promise(found, parts):
    assert {promise.rule for promise in found.promises} == {*SIMPLE_RULES, RECOMMENDED}
    assert [promise.promised for promise in of(found, RECOMMENDED)] == [0.9, 0.95, 0.99]
    expected = Replay(parts, **SETTING).outcomes({RECOMMENDED: RecommendedRule()}, [0.95])[0]
    own = of(found, RECOMMENDED)[1]
    assert (own.achieved, own.fill_rate) == (expected.cycle_service_level, expected.fill_rate)
    assert own.service_by_origin == expected.service_by_origin
    assert len(own.service_by_origin) == len(found.origins)


def test_scores_are_those_of_the_replay(found, parts):
    expected = Replay(parts, **SETTING).calibrations({"Poisson MA12": SIMPLE_RULES["Poisson MA12"]})[0]
    assert next(one for one in found.calibrations if one.rule == "Poisson MA12") == expected
    assert sum(expected.pit) == pytest.approx(1)


def test_a_promise_outside_its_interval_is_missed_or_exceeded(found):
    for promise in found.promises:
        low, high = binomial_interval(promise.achieved, found.windows)
        assert (promise.low, promise.high) == (low, high)
        assert (promise.verdict == "missed") == (promise.promised > high)
        assert (promise.verdict == "exceeded") == (promise.promised < low)


def test_the_best_rule_left_least_of_those_that_did_not_miss(found):
    for promised in (0.9, 0.95, 0.99):
        fair = [one for one in found.promises if one.promised == promised and one.verdict != "missed"]
        best = [one.rule for one in found.promises if one.promised == promised and one.is_best]
        assert best == [min(fair, key=lambda one: one.mean_leftover).rule]


def test_windows_that_overlap_count_once(parts):
    every_period = run_backtest(parts, first_origin=30, exposure=3, step=1, targets=[0.9], with_scores=False)
    assert len(every_period.origins) == 19
    assert every_period.windows == len(parts) * 7


def test_the_scope_and_what_a_promise_is_stand_first_and_last(found, parts):
    first, last = found.reasons[0], found.reasons[-1]
    assert first.code == "backtest_scope"
    assert dict(first.values) == {
        "items": len(parts),
        "periods": 51,
        "origins": 9,
        "exposure_periods": 3,
        "windows": found.windows,
    }
    assert (last.code, dict(last.values)) == ("promise_for_all_items", {})


def test_a_rule_that_misses_is_named_with_what_to_expect(parts):
    rising = parts.copy()
    rising[:, 36:] *= 6
    found = run_backtest(rising, **SETTING, targets=[0.95], with_scores=False)
    own = of(found, RECOMMENDED)[0]
    assert own.verdict == "missed"
    assert reasons(found, "promise_missed") == [
        {
            "promised": 0.95,
            "achieved": own.achieved,
            "low": own.low,
            "high": own.high,
            "worst_origin": min(own.service_by_origin),
            "best_origin": max(own.service_by_origin),
        }
    ]


def test_a_simple_rule_that_did_better_is_named_with_what_it_left_over():
    quiet = np.zeros((40, 60))
    quiet[:, 30::6] = 1
    found = run_backtest(quiet, **SETTING, targets=[0.9], with_scores=False)
    best = next(promise for promise in found.promises if promise.is_best)
    own = of(found, RECOMMENDED)[0]
    assert best.rule != RECOMMENDED
    code = "other_rule_kept_promise" if own.verdict == "missed" else "other_rule_left_less"
    assert reasons(found, code) == [
        {
            "promised": 0.9,
            "rule": best.rule,
            "mean_leftover": best.mean_leftover,
            "recommended_leftover": own.mean_leftover,
        }
    ]


def test_few_items_make_a_wide_interval_and_that_is_a_reason(parts):
    few = run_backtest(parts[:12], **SETTING, with_scores=False)
    many = run_backtest(parts, **SETTING, with_scores=False)
    assert of(few, RECOMMENDED)[0].high - of(few, RECOMMENDED)[0].low > 0.08
    wide = reasons(few, "achieved_service_uncertain")[0]
    assert wide["half_interval_points"] == pytest.approx(
        50 * (of(few, RECOMMENDED)[0].high - of(few, RECOMMENDED)[0].low)
    )
    scarce = reasons(few, "too_few_misses_expected")[-1]
    assert (scarce["promised"], scarce["windows"]) == (0.99, 108)
    assert scarce["expected_misses"] == pytest.approx(1.08)
    assert reasons(many, "too_few_misses_expected") == []


def test_the_spend_is_that_of_the_priced_items(parts):
    prices = np.full(len(parts), 7.0)
    priced = run_backtest(parts, **SETTING, targets=[0.9], unit_costs=prices, with_scores=False)
    prices[1::2] = math.nan
    half = run_backtest(parts, **SETTING, targets=[0.9], unit_costs=prices, with_scores=False)
    plain = run_backtest(parts, **SETTING, targets=[0.9], with_scores=False)
    assert plain.promises[0].mean_spend is None
    stock = priced.promises[0].mean_spend / 7
    assert half.promises[0].mean_spend == pytest.approx(7 * stock, rel=0.15)


def test_the_same_record_gives_the_same_answer(parts, found):
    assert run_backtest(parts, **SETTING) == found


@pytest.mark.parametrize(("hits", "trials"), [(0, 5), (5, 5), (3, 10), (950, 1000)])
def test_the_interval_is_the_exact_binomial_one(hits, trials):
    exact = stats.binomtest(hits, trials).proportion_ci(method="exact")
    assert binomial_interval(hits / trials, trials) == pytest.approx((exact.low, exact.high), abs=1e-9)


def test_a_record_is_thinned_to_the_work_allowed():
    record, setting = np.ones((4000, 60)), {"first_origin": 24, "exposure": 3}
    assert thinning(record, **setting, step=3, most_work=10**9) == 1
    assert thinning(record, **setting, step=3, most_work=100_000) == 5
    assert thinning(record, **setting, step=1, most_work=100_000) == 14
    assert thinning(record, **setting, step=1, most_work=1) == 20
    assert thinning(record[:150], **setting, step=1, most_work=1) == 1


def test_large_demands_make_every_fit_longer():
    record, setting = np.ones((4000, 60)), {"first_origin": 24, "exposure": 3, "step": 3}
    few = thinning(record, **setting, most_work=500_000)
    assert few < thinning(record * 300, **setting, most_work=500_000)


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"first_origin": 1}, "first_origin"),
        ({"first_origin": 2}, "first_origin"),
        ({"exposure": 0}, "exposure"),
        ({"step": 0}, "step"),
        ({"first_origin": 50}, "demand"),
        ({"targets": [1.0]}, "targets"),
        ({"unit_costs": [1.0]}, "unit_costs"),
    ],
)
def test_it_refuses_what_is_out_of_range_by_name(parts, changes, name):
    with pytest.raises(ValueError, match=f"`{name}`"):
        run_backtest(parts, **{**SETTING, **changes})


def test_it_refuses_broken_pieces():
    with pytest.raises(ValueError, match="`demand` must hold whole pieces"):
        run_backtest(np.full((3, 40), 0.5), **SETTING)

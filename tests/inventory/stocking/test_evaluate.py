import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inventory.stocking.demand_models import (
    GammaPoissonDemand,
    GivenDemand,
    IntermittentDemand,
    PoissonDemand,
)
from inventory.stocking.evaluate import evaluate
from inventory.stocking.intermittent import sba_rates
from inventory.stocking.targets import LeastCostTarget, ServiceLevelTarget

CYCLE = ServiceLevelTarget("cycle_service_level", 0.98)
PRICES = LeastCostTarget(300, 0.22, 500, 8, 40)
SERIES = [0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0]
DEMANDS = st.one_of(
    st.builds(PoissonDemand, st.floats(0, 60)),
    st.builds(GammaPoissonDemand, st.integers(0, 9), st.floats(0, 9), st.floats(0.1, 3), st.floats(0.1, 9)),
    st.builds(
        IntermittentDemand,
        st.lists(st.integers(0, 9), min_size=2, max_size=24),
        st.sampled_from([12, 52]),
        st.sampled_from(["croston", "sba", "tsb"]),
    ),
)
TARGETS = st.one_of(
    st.builds(
        ServiceLevelTarget,
        st.sampled_from(["cycle_service_level", "fill_rate", "no_backorder"]),
        st.floats(0.3, 0.9999),
    ),
    st.builds(LeastCostTarget, st.floats(1, 1e4), st.floats(0.05, 0.5), st.floats(0, 5000), st.floats(0, 48)),
)


def test_the_example_of_the_contract():
    answer = evaluate(PoissonDemand(4.0), 45, 0, 1, CYCLE)
    mean = 4 * 45 / 365
    assert (answer.stocked, answer.reorder_point, answer.order_up_to) == (True, 2, 3)
    assert answer.expected_lead_time_demand == pytest.approx(mean)
    assert answer.lead_time_demand[:5] == pytest.approx(stats.poisson.pmf(range(5), mean))
    assert answer.cycle_service_level == pytest.approx(stats.poisson.cdf(2, mean))
    assert answer.fill_rate == pytest.approx(answer.cycle_service_level)
    assert answer.no_backorder == pytest.approx(stats.poisson.cdf(3, mean))
    assert answer.expected_backorders == pytest.approx(stats.poisson.sf(range(3, 40), mean).sum(), rel=1e-6)
    assert answer.expected_stockouts_per_year == pytest.approx(4 * stats.poisson.sf(2, mean))
    assert answer.annual_cost is None


def reasons(answer):
    return [(reason.code, dict(reason.values)) for reason in answer.reasons]


def test_its_reasons_say_demand_lead_time_decision_rule_and_outcome():
    answer = evaluate(PoissonDemand(4.0), 45, 0, 1, CYCLE)
    mean, within = 4 * 45 / 365, stats.poisson.cdf(2, 4 * 45 / 365)
    assert reasons(answer) == [
        ("demand_poisson", {"rate_per_year": 4.0}),
        (
            "lead_time_fixed",
            pytest.approx({"lead_time_days": 45, "expected_pieces": mean, "chance_of_none": np.exp(-mean)}),
        ),
        (
            "service_reached",
            {"service": "cycle_service_level", "target": 0.98, "achieved": pytest.approx(within)},
        ),
        ("order_at_reorder_point", {"reorder_point": 2, "order_up_to": 3}),
        (
            "shortage_once_in_years",
            pytest.approx({"fill_rate": within, "once_in_years": 1 / (4 * (1 - within))}),
        ),
    ]


@pytest.mark.parametrize(
    ("rate", "target", "code"),
    [
        (0.0, 0.9, "no_demand_expected"),
        (40.0, 0.9, "shortages_each_year"),
        (4.0, 0.999999, "shortage_very_rare"),
    ],
)
def test_the_outcome_names_how_often_a_piece_is_missing(rate, target, code):
    answer = evaluate(PoissonDemand(rate), 45, 0, 1, ServiceLevelTarget("cycle_service_level", target))
    assert answer.reasons[-1].code == code


@pytest.mark.parametrize(("rate", "code"), [(1.0, "shortages_each_year"), (0.99, "shortage_once_in_years")])
def test_without_stock_each_demand_is_a_shortage(rate, code):
    answer = evaluate(PoissonDemand(rate), 10, 0, 1, ServiceLevelTarget("no_backorder", 0.5))
    assert (answer.order_up_to, answer.expected_stockouts_per_year) == (0, pytest.approx(rate))
    assert answer.reasons[-1].code == code


@pytest.mark.parametrize("quantity", [1, 4])
def test_a_fill_rate_is_met_by_the_smallest_reorder_point(quantity):
    answer = evaluate(PoissonDemand(20), 60, 0, quantity, ServiceLevelTarget("fill_rate", 0.95))
    mean = 20 * 60 / 365

    def filled(point):
        return stats.poisson.cdf(np.arange(point, point + quantity), mean).mean()

    assert answer.fill_rate == pytest.approx(filled(answer.reorder_point))
    assert filled(answer.reorder_point) >= 0.95 > filled(answer.reorder_point - 1)
    assert answer.order_up_to == answer.reorder_point + quantity


def test_no_backorder_may_need_no_piece_at_all():
    answer = evaluate(PoissonDemand(0.1), 30, 0, 1, ServiceLevelTarget("no_backorder", 0.95))
    assert (answer.stocked, answer.reorder_point, answer.order_up_to) == (False, -1, 0)
    assert (answer.cycle_service_level, answer.fill_rate) == (0, 0)
    assert answer.no_backorder == pytest.approx(stats.poisson.pmf(0, 0.1 * 30 / 365))
    assert answer.expected_backorders == pytest.approx(0.1 * 30 / 365)
    assert answer.expected_stockouts_per_year == pytest.approx(0.1)
    assert reasons(answer)[2:4] == [
        (
            "service_reached_without_stock",
            {"service": "no_backorder", "target": 0.95, "achieved": answer.no_backorder},
        ),
        ("keep_none", {}),
    ]


@pytest.mark.parametrize("kind", ["cycle_service_level", "fill_rate"])
def test_the_other_services_always_keep_one(kind):
    answer = evaluate(PoissonDemand(0.0), 30, 0, 1, ServiceLevelTarget(kind, 0.5))
    assert (answer.stocked, answer.reorder_point, answer.order_up_to) == (True, 0, 1)


def test_prices_decide_by_yearly_cost():
    answer = evaluate(PoissonDemand(4.0), 45, 0, 1, PRICES)
    mean = 4 * 45 / 365

    def yearly(point):
        short = stats.poisson.sf(np.arange(point + 1, point + 60), mean).sum()
        missing = 4 * stats.poisson.sf(point, mean)
        return 66 * (point + 1 - mean + short) + 4 * 40 + missing * 4000

    costs = [yearly(point) for point in range(-1, 12)]
    assert answer.reorder_point == int(np.argmin(costs)) - 1
    assert answer.annual_cost == pytest.approx(min(costs), rel=1e-9)
    assert reasons(answer)[2] == (
        "stock_costs_less",
        {"cost_with_stock": answer.annual_cost, "cost_without_stock": pytest.approx(4 * 4040)},
    )


def test_with_high_prices_none_is_kept():
    answer = evaluate(PoissonDemand(0.05), 90, 0, 1, LeastCostTarget(30000, 0.22, 5000, 8))
    assert (answer.stocked, answer.order_up_to, answer.reorder_point) == (False, 0, -1)
    assert answer.annual_cost == pytest.approx(0.05 * 40000)
    assert reasons(answer)[2] == (
        "no_stock_costs_less",
        {"cost_with_stock": pytest.approx(6543.64, abs=0.005), "cost_without_stock": pytest.approx(2000)},
    )


def test_prices_may_choose_the_quantity():
    answer = evaluate(PoissonDemand(200), 20, 0, None, LeastCostTarget(2, 0.2, 10, 1, 25))
    assert answer.order_up_to - answer.reorder_point > 50
    with pytest.raises(ValueError, match="`order_quantity`"):
        evaluate(PoissonDemand(200), 20, 0, None, CYCLE)


def test_an_order_too_expensive_needs_the_quantity():
    expensive_order = LeastCostTarget(0.1, 0.1, 10, 1, 1e5)
    with pytest.raises(ValueError, match="`order_quantity` must be given where an order costs so much"):
        evaluate(PoissonDemand(1000), 20, 0, None, expensive_order)
    assert evaluate(PoissonDemand(1000), 20, 0, 500, expensive_order).order_up_to > 500


def test_a_spread_too_small_to_matter_is_none():
    chances = GivenDemand(pmf_over=lambda days: stats.poisson.pmf(range(40), days), rate_per_year=365)
    fixed, hardly = (evaluate(chances, 2, sd, 1, CYCLE).lead_time_demand for sd in (0, 1e-160))
    assert hardly == pytest.approx(fixed)


def test_a_varying_lead_time_is_gamma():
    answer = evaluate(PoissonDemand(365 * 2), 1.5, 0.75, 1, ServiceLevelTarget("no_backorder", 0.95))
    assert answer.order_up_to == 7
    assert answer.lead_time_demand[:2] == pytest.approx([0.1066222407, 0.1827809841])
    code, values = reasons(answer)[1]
    assert (code, values["lead_time_sd_days"]) == ("lead_time_varies", 0.75)


def test_few_events_are_pooled_with_the_prior():
    answer = evaluate(GammaPoissonDemand(2, 3, 0.8, 5), 73, 0, 1, CYCLE)
    expected = stats.nbinom.pmf(range(5), 2.8, 8 / 8.2)
    assert answer.lead_time_demand[:5] == pytest.approx(expected)
    assert answer.expected_lead_time_demand == pytest.approx(2.8 / 8 * 0.2)


def test_a_sure_prior_is_poisson():
    sure = evaluate(GammaPoissonDemand(0, 0, 4e9, 1e9), 45, 0, 1, CYCLE)
    known = evaluate(PoissonDemand(4), 45, 0, 1, CYCLE)
    assert sure.cycle_service_level == pytest.approx(known.cycle_service_level, abs=1e-9)


def test_a_given_distribution_is_used_as_it_is():
    answer = evaluate(GivenDemand(pmf=[0.7, 0.2, 0.1], rate_per_year=3), 45, 0, 1, CYCLE)
    assert (answer.reorder_point, answer.cycle_service_level) == (2, 1.0)
    assert answer.lead_time_demand.tolist() == [0.7, 0.2, 0.1]
    tight = evaluate(GivenDemand(pmf=[0.7, 0.2, 0.1]), 36.5, 0, 1, ServiceLevelTarget("fill_rate", 0.9))
    assert (tight.reorder_point, tight.expected_stockouts_per_year) == (1, pytest.approx(0.4 * 10 * 0.1))


def test_a_given_distribution_over_any_time_meets_a_varying_lead_time():
    over = GivenDemand(pmf_over=lambda days: stats.poisson.pmf(range(80), 4 * days / 365), rate_per_year=4)
    mixed = evaluate(over, 45, 20, 1, CYCLE)
    closed = evaluate(PoissonDemand(4), 45, 20, 1, CYCLE)
    assert mixed.cycle_service_level == pytest.approx(closed.cycle_service_level, abs=1e-8)
    with pytest.raises(ValueError, match="`lead_time_sd_days`"):
        evaluate(GivenDemand(pmf=[1.0]), 45, 20, 1, CYCLE)


def test_intermittent_demand_has_the_forecast_rate_and_the_records_own_spread():
    answer = evaluate(
        IntermittentDemand(SERIES, 12, "sba"), 73, 0, 1, ServiceLevelTarget("no_backorder", 0.9)
    )
    mean = float(sba_rates(np.array([SERIES], dtype=float))[0]) * 12 * 0.2
    variance = np.var(SERIES, ddof=1) * 2.4
    expected = stats.nbinom.pmf(range(5), mean**2 / (variance - mean), mean / variance)
    assert answer.lead_time_demand[:5] == pytest.approx(expected)
    assert answer.fill_rate < answer.cycle_service_level
    assert reasons(answer)[0] == (
        "demand_intermittent",
        {
            "periods_with_demand": 6,
            "periods": 16,
            "demand_class": "lumpy",
            "interval_periods": pytest.approx(16 / 6),
            "size_cv2": pytest.approx(np.var([2, 1, 11, 2, 6, 3]) / np.mean([2, 1, 11, 2, 6, 3]) ** 2),
            "method": "sba",
            "rate_per_year": pytest.approx(mean * 5),
        },
    )


CHAIN = [0] * 121
CHAIN[5::12] = [88, 72, 144, 126, 144, 222, 84, 134, 88, 144]
"""Links of chain requested in ten years, a strand or two at a time."""


def test_few_large_demands_are_not_spread_over_single_pieces():
    demand = IntermittentDemand(CHAIN, 12, "sba")
    none, expected, chance = demand.spread_test()
    mean, variance = np.mean(CHAIN), np.var(CHAIN, ddof=1)
    share = (mean / variance) ** (mean**2 / (variance - mean))
    assert (none, expected) == (111, pytest.approx(121 * share))
    assert chance == pytest.approx(stats.binom.sf(110, 121, share))
    answer = evaluate(demand, 30, 0, 90, ServiceLevelTarget("fill_rate", 0.95))
    # Ten demands, ten times the mean size over the forecast of a month: negative binomial jobs; none has one piece.
    rate = float(sba_rates(np.array([CHAIN], dtype=float))[0])
    exposure = sum(CHAIN) / rate
    assert answer.lead_time_demand[0] == pytest.approx(
        stats.nbinom(10, exposure / (exposure + 30 * 12 / 365)).pmf(0)
    )
    assert answer.lead_time_demand[1:72].sum() == pytest.approx(0.0)
    codes = [reason.code for reason in answer.reasons]
    assert codes[:3] == ["demand_intermittent", "lead_time_fixed", "spread_few_and_large"]


def test_the_promise_of_few_large_demands_is_kept_where_they_come_as_compound_poisson():
    random, demands = np.random.default_rng(3), np.array([one for one in CHAIN if one])
    answer = evaluate(IntermittentDemand(CHAIN, 12), 30, 0, 90, ServiceLevelTarget("fill_rate", 0.95))
    filled = requested = 0.0
    for _ in range(4000):
        rate = random.gamma(10, 1 / 10) * answer_rate(answer)
        shares = random.dirichlet(np.ones(10))
        sizes = random.choice(demands, random.poisson(rate * 30) + 1, p=shares)
        position = answer.reorder_point + random.integers(1, 91)
        filled += min(max(position - sizes[1:].sum(), 0), sizes[0])
        requested += sizes[0]
    assert filled / requested == pytest.approx(answer.fill_rate, abs=0.012)


def answer_rate(answer):
    """Demands a day."""
    (described,) = (reason for reason in answer.reasons if reason.code == "demand_intermittent")
    return described.values["rate_per_year"] / np.mean([one for one in CHAIN if one]) / 365


def test_what_the_usual_distribution_explains_keeps_it():
    answer = evaluate(IntermittentDemand(SERIES, 12), 30, 0, 1, CYCLE)
    assert [reason.code for reason in answer.reasons][2] == "spread_negative_binomial"


def test_a_single_spare_names_its_break_even():
    target = LeastCostTarget(
        unit_cost=30_000, holding_rate_per_year=0.22, downtime_cost_per_hour=1000, hours_to_expedite=40
    )
    found = evaluate(PoissonDemand(0.2), 1.5 * 365, 0, 1, target)
    # 8,000 lost a year without it, 6,600 for holding it, and 0.3 / 1.3 of the demand finds it away.
    assert (found.stocked, found.order_up_to, found.annual_cost) == (False, 0, pytest.approx(8000))
    (named,) = (reason for reason in found.reasons if reason.code == "single_spare_break_even")
    assert named.values["share_away"] == pytest.approx(0.3 / 1.3)
    assert named.values["price_up_to"] == pytest.approx(8000 / 1.3 / 0.22)
    assert named.values["rate_from"] == pytest.approx(6600 / (40_000 - 1.5 * 6600))
    assert evaluate(PoissonDemand(0.2), 30, 0, 1, target).stocked


def test_a_record_without_demand_says_so():
    answer = evaluate(IntermittentDemand([0, 0, 0], 12), 30, 0, 1, CYCLE)
    assert reasons(answer)[0] == ("no_demand_in_record", {"periods": 3})


def test_events_and_prior_are_named():
    answer = evaluate(GammaPoissonDemand(2, 3, 0.8, 5), 73, 0, 1, CYCLE)
    assert reasons(answer)[0] == (
        "demand_gamma_poisson",
        {
            "events": 2,
            "exposure_years": 3,
            "prior_events": 0.8,
            "prior_exposure_years": 5,
            "rate_per_year": pytest.approx(2.8 / 8),
        },
    )


def test_demands_of_one_piece_are_filled_as_the_chance_says():
    answer = evaluate(IntermittentDemand([0, 1, 0, 0, 1, 0], 12, "tsb"), 30, 0, 1, CYCLE)
    assert answer.fill_rate == pytest.approx(answer.cycle_service_level)


@given(
    demand=DEMANDS, target=TARGETS, days=st.floats(0.5, 400), sd=st.floats(0, 200), quantity=st.integers(1, 9)
)
def test_every_answer_is_consistent_and_reaches_its_target(demand, target, days, sd, quantity):
    try:
        answer = evaluate(demand, days, sd, quantity, target)
    except ValueError:
        # A lead time that varies hundreds of times its mean leaves a tail too long to write out, and is refused by name.
        if sd < 20 * days:
            raise
        return
    chances = answer.lead_time_demand
    assert chances.sum() == pytest.approx(1, abs=1e-9)
    assert answer.no_backorder == pytest.approx(chances[: answer.order_up_to + 1].sum(), abs=1e-9)
    assert answer.cycle_service_level == pytest.approx(chances[: answer.reorder_point + 1].sum(), abs=1e-9)
    assert 0 <= answer.fill_rate <= 1
    assert answer.expected_backorders >= 0
    if answer.stocked:
        assert answer.order_up_to == answer.reorder_point + quantity
        assert answer.reorder_point >= 0
    else:
        assert (answer.order_up_to, answer.reorder_point) == (0, -1)
        assert not isinstance(target, ServiceLevelTarget) or target.kind == "no_backorder"
    if isinstance(target, ServiceLevelTarget):
        assert getattr(answer, target.kind) >= target.value - 1e-9
    assert len(answer.reasons) in (5, 6, 7)


@given(first=st.floats(0.5, 0.999), second=st.floats(0.5, 0.999), rate=st.floats(0.1, 40))
def test_more_service_never_takes_less_stock(first, second, rate):
    for kind in ("cycle_service_level", "fill_rate", "no_backorder"):
        low, high = (
            evaluate(PoissonDemand(rate), 60, 10, 2, ServiceLevelTarget(kind, value)).order_up_to
            for value in sorted((first, second))
        )
        assert low <= high


@pytest.mark.parametrize(
    ("days", "sd", "quantity", "name"),
    [
        (0, 0, 1, "lead_time_days"),
        (-3, 0, 1, "lead_time_days"),
        (3651, 0, 1, "lead_time_days"),
        (float("nan"), 0, 1, "lead_time_days"),
        ("45", 0, 1, "lead_time_days"),
        (45, -1, 1, "lead_time_sd_days"),
        (45, float("inf"), 1, "lead_time_sd_days"),
        (45, 3651, 1, "lead_time_sd_days"),
        (45, 0, 0, "order_quantity"),
        (45, 0, 1.5, "order_quantity"),
        (45, 0, 10_000_000, "order_quantity"),
        (45, 0, True, "order_quantity"),
    ],
)
def test_it_refuses_what_is_out_of_range(days, sd, quantity, name):
    with pytest.raises(ValueError, match=f"`{name}`"):
        evaluate(PoissonDemand(4), days, sd, quantity, CYCLE)


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda: PoissonDemand(1.1e6), "rate_per_year"),
        (lambda: PoissonDemand(-1), "rate_per_year"),
        (lambda: PoissonDemand(float("nan")), "rate_per_year"),
        (lambda: GammaPoissonDemand(-1, 1, 1, 1), "events"),
        (lambda: GammaPoissonDemand(1, -1, 1, 1), "exposure_years"),
        (lambda: GammaPoissonDemand(1, 1, 0, 1), "prior_shape"),
        (lambda: GammaPoissonDemand(1, 1, 1, 0), "prior_exposure_years"),
        (lambda: GammaPoissonDemand(3e6, 1, 1, 1), "rate_per_year"),
        (lambda: IntermittentDemand([], 12), "series"),
        (lambda: IntermittentDemand([0.5], 12), "series"),
        (lambda: IntermittentDemand([1], 0), "periods_per_year"),
        (lambda: IntermittentDemand([1], 12, "ses"), "method"),
        (lambda: IntermittentDemand([99_999], 52), "rate_per_year"),
        (lambda: GivenDemand(), "pmf"),
        (lambda: GivenDemand(pmf=[0.4]), "pmf"),
        (lambda: GivenDemand(pmf=[1.0], piece_sizes=[1.0]), "piece_sizes"),
        (lambda: ServiceLevelTarget("fill_rate", 1), "value"),
        (lambda: ServiceLevelTarget("fill_rate", 0), "value"),
        (lambda: ServiceLevelTarget("service", 0.9), "kind"),
        (lambda: LeastCostTarget(0, 0.2, 1, 1, 1), "unit_cost"),
        (lambda: LeastCostTarget(1, float("nan"), 1, 1, 1), "holding_rate_per_year"),
        (lambda: LeastCostTarget(1, 0.2, -1, 1, 1), "downtime_cost_per_hour"),
    ],
)
def test_it_refuses_demands_and_targets_by_field(make, name):
    with pytest.raises(ValueError, match=f"`{name}`"):
        make()


def test_the_largest_rate_is_answered():
    answer = evaluate(PoissonDemand(1e6), 45, 0, 1, CYCLE)
    assert answer.reorder_point == stats.poisson.ppf(0.98, 1e6 * 45 / 365)


@pytest.mark.parametrize("days", [5e-324, 1e-100, 1e-9])
@pytest.mark.parametrize("sd", [0, 5e-324, 3650])
@pytest.mark.filterwarnings("error")
def test_the_shortest_lead_times_are_answered(days, sd):
    for demand in (PoissonDemand(4), GammaPoissonDemand(0, 0, 0.5, 2), IntermittentDemand([0, 3], 12)):
        answer = evaluate(demand, days, sd, 1, CYCLE)
        assert (answer.reorder_point, answer.order_up_to) == (0, 1)


def test_a_demand_too_large_to_write_out_is_refused_by_field():
    with pytest.raises(ValueError, match="`lead_time_days`"):
        evaluate(PoissonDemand(1e6), 3650, 0, 1, CYCLE)

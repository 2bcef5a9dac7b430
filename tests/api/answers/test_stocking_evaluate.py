import json
import time

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import stats

from drives.reliability.renewal_forecast import forecast_renewals
from tests.api.records import errors

pytestmark = [pytest.mark.django_db, pytest.mark.no_rows]
ADDRESS = "/api/v1/stocking/evaluate/"
POISSON = {"model": "poisson", "rate_per_year": 4.0}
GAMMA_POISSON = {
    "model": "gamma_poisson",
    "events": 2,
    "exposure_years": 3,
    "prior_shape": 0.8,
    "prior_exposure_years": 5,
}
RENEWAL = {
    "model": "weibull_renewal",
    "shape": 2.5,
    "scale_hours": 12_000,
    "ages_hours": [0, 3000, 9000, 11_000],
    "hours_per_year": 6000,
}
SERIES = [0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0]
INTERMITTENT = {"model": "intermittent", "series": SERIES, "periods_per_year": 12, "method": "sba"}
DEMANDS = [POISSON, GAMMA_POISSON, RENEWAL, INTERMITTENT]
COST = {
    "kind": "cost",
    "unit_cost": "300.00",
    "holding_rate_per_year": 0.22,
    "downtime_cost_per_hour": "500",
    "hours_to_expedite": 8,
    "order_cost": "40.00",
}
CYCLE = {"kind": "cycle_service_level", "value": 0.98}
TARGETS = [CYCLE, {"kind": "fill_rate", "value": 0.95}, {"kind": "no_backorder", "value": 0.99}, COST]
EXAMPLE = {
    "demand": POISSON,
    "lead_time_days": 45,
    "lead_time_sd_days": 0,
    "order_quantity": 1,
    "target": CYCLE,
}


def evaluate(client, **changes):
    body = {name: value for name, value in {**EXAMPLE, **changes}.items() if value != "left out"}
    return client.post(ADDRESS, body)


def answer(client, **changes):
    found = evaluate(client, **changes)
    assert found.status_code == 200, found.content
    return found.json()


def test_the_example_of_the_contract(as_viewer):
    found = answer(as_viewer)
    mean = 4 * 45 / 365

    assert (found["stocked"], found["reorder_point"], found["order_up_to"]) == (True, 2, 3)
    assert found["expected_lead_time_demand"] == pytest.approx(mean)
    assert found["lead_time_demand"][:6] == pytest.approx(stats.poisson.pmf(range(6), mean))
    assert found["cycle_service_level"] == pytest.approx(stats.poisson.cdf(2, mean))
    assert found["fill_rate"] == pytest.approx(stats.poisson.cdf(2, mean))
    assert found["no_backorder"] == pytest.approx(stats.poisson.cdf(3, mean))
    assert found["expected_stockouts_per_year"] == pytest.approx(4 * stats.poisson.sf(2, mean))
    assert (found["annual_cost"], found["currency"]) == (None, None)
    assert [reason["code"] for reason in found["reasons"]] == [
        "demand_poisson",
        "lead_time_fixed",
        "service_reached",
        "order_at_reorder_point",
        "shortage_once_in_years",
    ]
    assert (
        found["reasons"][3]["explanation"] == "Order when on hand + on order - reserved falls to 2, up to 3."
    )


@pytest.mark.parametrize("demand", DEMANDS, ids=lambda demand: demand["model"])
@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target["kind"])
@pytest.mark.parametrize("spread", [0, 15])
def test_every_demand_meets_every_target(as_viewer, demand, target, spread):
    found = answer(as_viewer, demand=demand, target=target, lead_time_sd_days=spread)
    chances = found["lead_time_demand"]

    assert sum(chances) == pytest.approx(1, abs=1e-9)
    assert found["cycle_service_level"] == pytest.approx(sum(chances[: found["reorder_point"] + 1]), abs=1e-9)
    assert found["no_backorder"] == pytest.approx(sum(chances[: found["order_up_to"] + 1]), abs=1e-9)
    assert found[target["kind"]] >= target["value"] if target is not COST else found["annual_cost"]


def test_units_of_known_ages_are_forecast_with_their_renewals(as_viewer):
    found = answer(as_viewer, demand=RENEWAL, lead_time_days=73)
    forecast = forecast_renewals(RENEWAL["ages_hours"], horizon_hours=1200, shape=2.5, scale_hours=12_000)
    year = forecast_renewals(RENEWAL["ages_hours"], horizon_hours=6000, shape=2.5, scale_hours=12_000)

    assert found["lead_time_demand"][:4] == pytest.approx(forecast.chances[:4].tolist())
    assert found["expected_stockouts_per_year"] == pytest.approx(year.mean * (1 - found["fill_rate"]))


def test_within_a_horizon_the_busiest_lead_time_counts(as_viewer):
    young = {**RENEWAL, "ages_hours": [1000.0, 1500.0]}
    now, until = (
        answer(as_viewer, demand={**young, "horizon_days": days}, lead_time_days=73) for days in (0, 1460)
    )

    assert until["expected_lead_time_demand"] > 3 * now["expected_lead_time_demand"]
    assert until["fill_rate"] < now["fill_rate"] or until["reorder_point"] > now["reorder_point"]
    assert [found["reasons"][2]["code"] for found in (now, until)] == [
        "holds_for_first_lead_time",
        "holds_within_horizon",
    ]


@pytest.mark.parametrize("days", [-1, 3651, "long"])
def test_a_horizon_out_of_range_is_named(as_viewer, days):
    found = evaluate(as_viewer, demand={**RENEWAL, "horizon_days": days})
    assert found.status_code == 400
    assert set(errors(found)) == {"/demand/horizon_days"}


def test_units_that_fail_by_chance_are_poisson(as_viewer):
    demand = {**RENEWAL, "shape": 1, "scale_hours": 10_000, "ages_hours": [0, 700, 9000]}
    found = answer(as_viewer, demand=demand, lead_time_sd_days=20)
    same = answer(as_viewer, demand={**POISSON, "rate_per_year": 1.8}, lead_time_sd_days=20)

    for name in ("cycle_service_level", "expected_stockouts_per_year", "expected_backorders"):
        assert found[name] == pytest.approx(same[name], rel=1e-5)


def test_older_units_need_more(as_viewer):
    young, old = (
        answer(as_viewer, demand={**RENEWAL, "ages_hours": [age] * 10}, lead_time_days=90)["reorder_point"]
        for age in (0, 12_000)
    )

    assert young < old


def test_prices_give_a_yearly_cost_beside_its_currency(as_viewer):
    found = answer(as_viewer, target={**COST, "currency": "EUR"})

    assert (found["annual_cost"], found["currency"]) == ("418.13", "EUR")
    assert found == answer(as_viewer, target={**COST, "currency": "EUR", "unit_cost": 300})


def test_with_high_prices_none_is_kept(as_viewer):
    expensive = {**COST, "unit_cost": "30000", "downtime_cost_per_hour": "5000", "order_cost": "0"}
    found = answer(as_viewer, demand={**POISSON, "rate_per_year": 0.05}, lead_time_days=90, target=expensive)

    assert (found["stocked"], found["order_up_to"], found["reorder_point"]) == (False, 0, -1)
    assert found["annual_cost"] == "2000.00"


def test_the_order_cost_chooses_the_quantity_where_none_is_given(as_viewer):
    cheap = {**COST, "unit_cost": "2", "order_cost": "25", "downtime_cost_per_hour": "10"}
    found = answer(
        as_viewer, demand={**POISSON, "rate_per_year": 200}, target=cheap, order_quantity="left out"
    )

    assert found["order_up_to"] - found["reorder_point"] == pytest.approx(
        (2 * 25 * 200 / 0.44) ** 0.5, rel=0.1
    )


@pytest.mark.parametrize("quantity", [None, "left out"])
def test_a_service_needs_the_quantity(as_viewer, quantity):
    assert set(errors(evaluate(as_viewer, order_quantity=quantity))) == {"/order_quantity"}


def test_the_list_of_chances_ends_where_nothing_is_left(as_viewer):
    chances = answer(as_viewer)["lead_time_demand"]

    assert stats.poisson.sf(len(chances) - 1, 4 * 45 / 365) < 1e-12
    assert stats.poisson.sf(len(chances) - 2, 4 * 45 / 365) >= 1e-12


def test_a_list_of_chances_cut_short_says_so(as_viewer):
    found = answer(as_viewer, demand={**POISSON, "rate_per_year": 100_000})

    assert len(found["lead_time_demand"]) == 2000
    assert found["reasons"][-1]["code"] == "chances_cut_short"
    assert found["reasons"][-1]["values"]["listed"] == 2000
    assert found["reasons"][-1]["explanation"].startswith("lead_time_demand lists the first 2,000 chances")


BAD = [
    ({"lead_time_days": 0}, {"/lead_time_days"}),
    ({"lead_time_days": -45}, {"/lead_time_days"}),
    ({"lead_time_days": 3651}, {"/lead_time_days"}),
    ({"lead_time_days": "45"}, {"/lead_time_days"}),
    ({"lead_time_days": True}, {"/lead_time_days"}),
    ({"lead_time_days": None}, {"/lead_time_days"}),
    ({"lead_time_sd_days": -1}, {"/lead_time_sd_days"}),
    ({"lead_time_sd_days": 10**40}, {"/lead_time_sd_days"}),
    ({"order_quantity": 0}, {"/order_quantity"}),
    ({"order_quantity": 1.5}, {"/order_quantity"}),
    ({"order_quantity": True}, {"/order_quantity"}),
    ({"order_quantity": 10**40}, {"/order_quantity"}),
    ({"demand": None}, {"/demand"}),
    ({"demand": 4}, {"/demand"}),
    ({"demand": {}}, {"/demand/model"}),
    ({"demand": {**POISSON, "model": "poison"}}, {"/demand/model"}),
    ({"demand": {**POISSON, "model": ["poisson"]}}, {"/demand/model"}),
    ({"demand": {"model": "poisson"}}, {"/demand/rate_per_year"}),
    ({"demand": {**POISSON, "rate_per_year": 1_000_001}}, {"/demand/rate_per_year"}),
    ({"demand": {**POISSON, "rate_per_year": -1}}, {"/demand/rate_per_year"}),
    ({"demand": {**POISSON, "rate_per_year": "4"}}, {"/demand/rate_per_year"}),
    ({"demand": {**POISSON, "events": 4}}, {"/demand/events"}),
    (
        {"demand": {**GAMMA_POISSON, "events": -1, "prior_shape": 0, "prior_exposure_years": False}},
        {"/demand/events", "/demand/prior_shape", "/demand/prior_exposure_years"},
    ),
    ({"demand": {**GAMMA_POISSON, "events": 1e9}}, {"/demand"}),
    (
        {"demand": {**RENEWAL, "ages_hours": [0, 5, -1, "7", 1e8]}},
        {"/demand/ages_hours/2", "/demand/ages_hours/3", "/demand/ages_hours/4"},
    ),
    ({"demand": {**RENEWAL, "ages_hours": []}}, {"/demand/ages_hours"}),
    ({"demand": {**RENEWAL, "ages_hours": 3}}, {"/demand/ages_hours"}),
    (
        {"demand": {**RENEWAL, "shape": 0, "scale_hours": 0, "hours_per_year": 8761}},
        {"/demand/shape", "/demand/scale_hours", "/demand/hours_per_year"},
    ),
    ({"demand": {**RENEWAL, "scale_hours": 0.5, "shape": 0.9}}, {"/lead_time_days"}),
    ({"demand": {**INTERMITTENT, "series": []}}, {"/demand/series"}),
    (
        {"demand": {**INTERMITTENT, "series": [1, 0.5, -1, None], "method": "ses"}},
        {"/demand/series/1", "/demand/series/2", "/demand/series/3", "/demand/method"},
    ),
    ({"demand": {**INTERMITTENT, "series": [99_999], "periods_per_year": 52}}, {"/demand"}),
    ({"demand": {**INTERMITTENT, "periods_per_year": 0}}, {"/demand/periods_per_year"}),
    ({"target": {"kind": "cycle_service_level", "value": 1}}, {"/target/value"}),
    ({"target": {"kind": "fill_rate", "value": 0}}, {"/target/value"}),
    ({"target": {"kind": "fill_rate", "value": 95}}, {"/target/value"}),
    ({"target": {"kind": "fill_rate"}}, {"/target/value"}),
    ({"target": {"kind": "service", "value": 0.9}}, {"/target/kind"}),
    ({"target": {**COST, "unit_cost": "0"}}, {"/target/unit_cost"}),
    ({"target": {**COST, "unit_cost": "1e5", "currency": "euro"}}, {"/target/unit_cost", "/target/currency"}),
    (
        {"target": {**COST, "order_cost": "-1", "holding_rate_per_year": 0, "hours_to_expedite": "8"}},
        {"/target/order_cost", "/target/holding_rate_per_year", "/target/hours_to_expedite"},
    ),
    ({"target": {**COST, "value": 0.9}}, {"/target/value"}),
    (
        {"target": {**COST, "unit_cost": "0.01", "order_cost": "1000000"}, "order_quantity": None},
        {"/order_quantity"},
    ),
    ({"demand": {**POISSON, "rate_per_year": 1e6}, "lead_time_days": 3650}, {"/lead_time_days"}),
    (
        {
            "demand": {**POISSON, "rate_per_year": -1},
            "lead_time_days": 0,
            "lead_time_sd_days": "3",
            "order_quantity": 0,
            "target": {"kind": "fill_rate", "value": 1},
            "leadtime": 3,
        },
        {
            "/demand/rate_per_year",
            "/lead_time_days",
            "/lead_time_sd_days",
            "/order_quantity",
            "/target/value",
            "/leadtime",
        },
    ),
]


@pytest.mark.parametrize(("changes", "pointers"), BAD)
def test_every_fault_is_named_and_none_hides_another(as_viewer, changes, pointers):
    found = evaluate(as_viewer, **changes)

    assert found.status_code == 400
    assert set(errors(found)) == pointers


def test_an_empty_body_names_what_is_needed(as_viewer):
    found = as_viewer.post(ADDRESS, {}, format="json")

    assert set(errors(found)) == {"/demand", "/lead_time_days", "/target"}


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e400"])
def test_numbers_without_end_are_refused(as_viewer, number):
    body = json.dumps(EXAMPLE).replace("45", number)

    assert as_viewer.post(ADDRESS, body, content_type="application/json").status_code == 400


def test_a_stranger_gets_no_answer(as_stranger):
    assert evaluate(as_stranger).status_code == 401


def test_it_reads_no_record(as_viewer, django_assert_num_queries):
    with django_assert_num_queries(1):
        answer(as_viewer)


def test_many_units_are_answered_in_good_time(as_viewer):
    ages = np.random.default_rng(6).uniform(0, 12_000, 10_000).tolist()
    started = time.monotonic()

    assert answer(as_viewer, demand={**RENEWAL, "ages_hours": ages})["reorder_point"] > 100
    assert time.monotonic() - started < 10
    varying = evaluate(as_viewer, demand={**RENEWAL, "ages_hours": ages[:1001]}, lead_time_sd_days=15)
    assert set(errors(varying)) == {"/demand/ages_hours"}


def test_a_lead_time_that_spreads_over_too_many_lives_is_refused(as_viewer):
    found = evaluate(
        as_viewer, demand={**RENEWAL, "scale_hours": 40}, lead_time_days=10, lead_time_sd_days=90
    )

    assert set(errors(found)) == {"/lead_time_sd_days"}


FUZZ = settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
NUMBERS = st.one_of(
    st.floats(0, 5000),
    st.integers(0, 12),
    st.floats(allow_nan=False),
    st.sampled_from([0, 1, -1, 5e-324, 1e-9, 1e6, 3650, 1e300, 10**40]),
)
JUNK = st.one_of(st.none(), st.booleans(), st.text(max_size=4), st.lists(st.integers(0, 3), max_size=2))
SERVICES = st.fixed_dictionaries(
    {
        "kind": st.sampled_from(["cycle_service_level", "fill_rate", "no_backorder"]),
        "value": st.one_of(st.floats(0.5, 0.9999), NUMBERS),
    }
)
PRICES = st.fixed_dictionaries(
    {
        "kind": st.just("cost"),
        **dict.fromkeys(("unit_cost", "downtime_cost_per_hour", "holding_rate_per_year"), NUMBERS),
        "hours_to_expedite": NUMBERS,
    },
    optional={"order_cost": NUMBERS},
)
ANY_DEMAND = st.one_of(
    st.fixed_dictionaries({"model": st.just("poisson"), "rate_per_year": NUMBERS}),
    st.fixed_dictionaries(
        {
            "model": st.just("gamma_poisson"),
            **dict.fromkeys(("events", "exposure_years", "prior_shape", "prior_exposure_years"), NUMBERS),
        }
    ),
    st.fixed_dictionaries(
        {
            "model": st.just("weibull_renewal"),
            "shape": st.one_of(st.floats(0.1, 9), NUMBERS),
            "scale_hours": NUMBERS,
            "ages_hours": st.lists(NUMBERS, max_size=4),
            "hours_per_year": NUMBERS,
        }
    ),
    st.fixed_dictionaries(
        {
            "model": st.just("intermittent"),
            "series": st.lists(st.one_of(st.integers(0, 9), NUMBERS), max_size=9),
            "periods_per_year": NUMBERS,
            "method": st.sampled_from(["croston", "sba", "tsb"]),
        }
    ),
    JUNK,
)
BODIES = st.fixed_dictionaries(
    {
        "demand": ANY_DEMAND,
        "lead_time_days": st.one_of(st.floats(1e-9, 3650), NUMBERS, JUNK),
        "target": st.one_of(SERVICES, PRICES, JUNK),
    },
    optional={
        "lead_time_sd_days": st.one_of(st.floats(0, 100), NUMBERS, JUNK),
        "order_quantity": st.one_of(st.integers(1, 9), NUMBERS, JUNK),
    },
)


def within(least, most):
    return st.one_of(st.floats(least, most), st.sampled_from([least, most, (least + most) / 2]))


GOOD_DEMAND = st.one_of(
    st.builds(lambda rate: {**POISSON, "rate_per_year": rate}, st.one_of(st.floats(0, 60), within(0, 1e6))),
    st.fixed_dictionaries(
        {
            "model": st.just("gamma_poisson"),
            **dict.fromkeys(("events", "exposure_years"), within(0, 1e9)),
            **dict.fromkeys(("prior_shape", "prior_exposure_years"), within(1e-9, 1e9)),
        }
    ),
    st.fixed_dictionaries(
        {
            "model": st.just("weibull_renewal"),
            "shape": st.one_of(st.floats(0.5, 6), within(0.1, 1000)),
            "scale_hours": st.one_of(st.floats(500, 50_000), within(0.01, 1e9)),
            "ages_hours": st.lists(st.one_of(st.floats(0, 30_000), within(0, 1e7)), min_size=1, max_size=5),
            "hours_per_year": st.one_of(st.floats(500, 8760), within(0.01, 8760)),
        }
    ),
    st.fixed_dictionaries(
        {
            "model": st.just("intermittent"),
            "series": st.lists(st.one_of(st.integers(0, 9), st.integers(0, 100_000)), min_size=1, max_size=9),
            "periods_per_year": st.one_of(st.sampled_from([12, 52]), within(0.01, 8760)),
            "method": st.sampled_from(["croston", "sba", "tsb"]),
        }
    ),
)
GOOD_TARGET = st.one_of(
    st.fixed_dictionaries(
        {
            "kind": st.sampled_from(["cycle_service_level", "fill_rate", "no_backorder"]),
            "value": st.one_of(st.floats(0.5, 0.9999), within(5e-324, 1 - 2**-53)),
        }
    ),
    st.fixed_dictionaries(
        {
            "kind": st.just("cost"),
            "unit_cost": st.one_of(st.floats(1, 5000), within(1e-9, 1e12)),
            "holding_rate_per_year": st.one_of(st.floats(0.05, 0.5), within(1e-9, 100)),
            "downtime_cost_per_hour": st.one_of(st.floats(0, 5000), within(0, 1e12)),
            "hours_to_expedite": within(0, 8760),
            "order_cost": st.one_of(st.just(0), st.floats(0, 500), within(0, 1e12)),
        }
    ),
)
GOOD_BODIES = st.fixed_dictionaries(
    {
        "demand": GOOD_DEMAND,
        "lead_time_days": st.one_of(st.floats(1, 400), within(5e-324, 3650)),
        "lead_time_sd_days": st.one_of(st.just(0), st.floats(0, 60), within(0, 3650)),
        "order_quantity": st.one_of(st.integers(1, 9), st.just(1_000_000)),
        "target": GOOD_TARGET,
    }
)
MAY_BE_TOO_MUCH = {"/demand", "/lead_time_days", "/lead_time_sd_days", "/order_quantity"}


@FUZZ
@given(body=GOOD_BODIES)
def test_what_is_within_the_limits_is_answered_or_is_too_much_by_name(as_viewer, body):
    found = as_viewer.post(ADDRESS, json.dumps(body), content_type="application/json")

    if found.status_code == 200:
        assert sum(found.json()["lead_time_demand"]) <= 1 + 1e-9
        assert 0 <= found.json()["fill_rate"] <= 1
    else:
        assert found.status_code == 400
        assert set(errors(found)) <= MAY_BE_TOO_MUCH, found.content
        assert all("`" in text for text in errors(found).values())


@FUZZ
@given(body=BODIES)
def test_whatever_comes_is_answered_or_refused_by_field(as_viewer, body):
    found = as_viewer.post(ADDRESS, json.dumps(body), content_type="application/json")

    assert found.status_code in (200, 400)
    if found.status_code == 400:
        assert all(row["pointer"].startswith("/") for row in found.json().get("errors", [])), found.content

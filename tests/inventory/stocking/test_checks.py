"""Every published or recomputed check row, compared at the tolerance it states. Sources stand in the rows."""

import numpy as np
import pytest

from inventory.stocking.base_stock import (
    poisson_base_stock_for_fill_rate,
    poisson_base_stock_for_no_backorder,
    poisson_expected_backorders,
)
from inventory.stocking.cover import expected_shortage, shared_stock, shortage_by_enumeration
from inventory.stocking.forecast_scores import ranked_probability_score
from inventory.stocking.intermittent import classify, croston, sba_rates, tsb_rates
from inventory.stocking.lead_time_demand import poisson, stuttering_poisson, zero_inflated_poisson
from inventory.stocking.least_cost import downtime_base_stock, erlang_loss
from inventory.stocking.lot_size import (
    economic_order_quantity,
    economic_order_quantity_with_backorders,
    newsvendor,
    normal_newsvendor,
)
from inventory.stocking.min_max import best_min_max
from inventory.stocking.mixtures import gamma_lead_time
from inventory.stocking.service_levels import one_for_one, reorder_point_order_quantity
from inventory.stocking.two_echelons import Base, availability, marginal_buys, metric, vari_metric
from tests.inventory.stocking.published import agrees, car_parts, check, check_ids, checks


def test_every_row_is_compared():
    own = {"D01", "D02", "D03", "D04", "D05", "D06", "D07", "L01", "L02", "L03", "L04", "B_rQ", "B_EOQ"}
    own |= {"B_EOQB", "B_NV", "B_NVP", "P_pool", "S_avail", "S_metric", "C_rps"}
    families = ("B_EBO", "B_min", "B_sS", "B_ZF", "B_DT", "B_ERL", "P_sub", "P_chain", "S_greedy")
    assert {name for name in checks() if name not in own and not name.startswith(families)} == set()


def test_croston_on_the_published_series():
    row = check("D01")
    result = croston(row["inputs"]["series"], row["inputs"]["alpha"])
    for name in ("size", "interval", "forecast"):
        agrees(row, name, getattr(result, name))


def test_sba_on_the_published_series():
    row = check("D02")
    agrees(row, "forecast", sba_rates([row["inputs"]["series"]], row["inputs"]["alpha"])[0])


@pytest.mark.parametrize("name", ["D03", "D04"])
def test_tsb_on_the_published_series(name):
    row = check(name)
    given = row["inputs"]
    rates = tsb_rates([given["series"]], alpha_size=given["alpha_d"], alpha_probability=given["alpha_p"])
    agrees(row, "forecast", rates[0])


def test_classification_of_the_published_series():
    row = check("D05")
    result = classify([row["inputs"]["series"]])
    agrees(row, "ADI_periods_per_demand", result.interval[0])
    agrees(row, "CV2_population", result.size_cv2[0])
    assert result.demand_class[0] == row["expected"]["class"]


def test_car_parts_fall_into_their_classes():
    result = classify(car_parts())
    assert {name: result.count(name) for name in check("D06")["expected"]} == check("D06")["expected"]


def test_the_other_divisor_would_move_79_car_parts():
    demand = car_parts()
    result = classify(demand)
    asked = (demand > 0).sum(axis=1)
    sample = result.size_cv2 * np.where(asked > 1, asked / np.maximum(asked - 1, 1), 1)
    lumpy = int(((result.interval >= 1.32) & (sample >= 0.49)).sum())
    assert lumpy == check("D07")["expected"]["lumpy"]
    assert lumpy - result.count("lumpy") == 79


@pytest.mark.parametrize("name", ["L01", "L02"])
def test_stuttering_poisson(name):
    row = check(name)
    law = stuttering_poisson(row["inputs"]["orders_mean"], row["inputs"]["geometric_q"])
    agrees(row, "pmf0_5", law.pmf[:6])
    agrees(row, "mean", law.mean)
    agrees(row, "variance", law.variance)
    assert law.smallest_within(0.95) == row["expected"]["q95"]


def test_gamma_lead_time():
    row = check("L03")
    given = row["inputs"]
    law = gamma_lead_time(given["rate"], given["lead_mean"], given["lead_mean"] * given["lead_cv"])
    agrees(row, "mean", law.mean)
    agrees(row, "variance", law.variance)
    agrees(row, "pmf0_4", law.pmf[:5])
    assert law.smallest_within(0.95) == row["expected"]["q95"]
    fixed = poisson(given["rate"] * given["lead_mean"])
    assert fixed.smallest_within(0.95) == row["expected"]["q95_if_lead_fixed"]


def test_zero_inflated_poisson():
    row = check("L04")
    law = zero_inflated_poisson(row["inputs"]["pi_zero"], row["inputs"]["lambda"])
    agrees(row, "mean", law.mean)
    agrees(row, "variance", law.variance)
    agrees(row, "p0", law.pmf[0])
    agrees(row, "p1_3", law.pmf[1:4])


@pytest.mark.parametrize("name", check_ids("B_EBO"))
def test_expected_backorders(name):
    row = check(name)
    pipeline = row["inputs"]["pipeline"]
    agrees(row, "EBO", poisson(pipeline).expected_above_each(8))
    agrees(row, "EBO", poisson_expected_backorders(pipeline, np.arange(9)))


@pytest.mark.parametrize("name", check_ids("B_min"))
def test_smallest_base_stock(name):
    row = check(name)
    pipeline, target = row["inputs"]["pipeline"], row["inputs"]["target"]
    fill, ready = (
        int(search(pipeline, target))
        for search in (poisson_base_stock_for_fill_rate, poisson_base_stock_for_no_backorder)
    )
    assert (fill, ready) == (row["expected"]["S_fill"], row["expected"]["S_no_backorder"])
    service = one_for_one(poisson(pipeline), fill)
    agrees(row, "fill", service.fill_rate)
    agrees(row, "EBO_at_S_fill", service.expected_backorders)
    agrees(row, "mean_on_hand_at_S_fill", service.on_hand)
    agrees(row, "p_no_backorder", one_for_one(poisson(pipeline), ready).ready_rate)


def test_reorder_point_and_order_quantity():
    row = check("B_rQ")
    given = row["inputs"]
    law = poisson(given["mean_demand"] * given["lead"])

    def yearly(point, quantity):
        service = reorder_point_order_quantity(law, point, quantity)
        ordering = given["K"] * given["mean_demand"] / quantity
        return given["h"] * service.on_hand + given["p"] * service.expected_backorders + ordering

    service = reorder_point_order_quantity(law, given["r"], given["Q"])
    agrees(row, "cost", yearly(given["r"], given["Q"]))
    agrees(row, "fill", service.fill_rate)
    agrees(row, "EBO", service.expected_backorders)
    agrees(row, "on_hand", service.on_hand)
    best = min(((r, q) for r in range(12) for q in range(1, 15)), key=lambda pair: yearly(*pair))
    assert best == (row["expected"]["optimal_r"], row["expected"]["optimal_Q"])


@pytest.mark.parametrize("name", check_ids("B_sS") + check_ids("B_ZF"))
def test_best_min_max(name):
    row = check(name)
    given = row["inputs"]
    best = best_min_max(
        poisson(given["mu"]), holding_cost=given["h"], backorder_cost=given["p"], order_cost=given["K"]
    )
    assert (best.order_at, best.order_up_to) == (row["expected"]["s"], row["expected"]["S"])
    agrees(row, "cost", best.cost)


def test_economic_order_quantity():
    row = check("B_EOQ")
    lot = economic_order_quantity(row["inputs"]["K"], row["inputs"]["h"], row["inputs"]["demand"])
    agrees(row, "Q", lot.quantity)
    agrees(row, "cost", lot.cost)


def test_economic_order_quantity_with_backorders():
    row = check("B_EOQB")
    given = row["inputs"]
    lot = economic_order_quantity_with_backorders(given["K"], given["h"], given["p"], given["demand"])
    agrees(row, "Q", lot.quantity)
    agrees(row, "cost", lot.cost)
    agrees(row, "backorder_fraction", lot.backorder_fraction)


def test_normal_newsvendor():
    row = check("B_NV")
    given = row["inputs"]
    buy = normal_newsvendor(given["mu"], given["sd"], given["h"], given["p"])
    agrees(row, "S", buy.quantity)
    agrees(row, "cost", buy.cost)


def test_poisson_newsvendor():
    row = check("B_NVP")
    given = row["inputs"]
    buy = newsvendor(poisson(given["mu"]), given["h"], given["p"])
    assert buy.quantity == row["expected"]["S"]
    agrees(row, "cost", buy.cost)


@pytest.mark.parametrize("name", check_ids("B_DT"))
def test_base_stock_against_downtime(name):
    row = check(name)
    given = row["inputs"]
    # The law is cut off where its tail is small against an hour of downtime too: 4 million times 1e-12 would show.
    best = downtime_base_stock(poisson(given["pipeline"], tail_mass=1e-18), given["h"], given["b"])
    assert best.stock == row["expected"]["S"]
    agrees(row, "critical_ratio", best.critical_ratio)
    agrees(row, "cost_rate", best.annual_cost)


@pytest.mark.parametrize("name", check_ids("B_ERL"))
def test_erlang_loss(name):
    row = check(name)
    agrees(row, "loss", erlang_loss(row["inputs"]["S"], row["inputs"]["pipeline"]))


def test_pooling_needs_fewer_pieces():
    row = check("P_pool")
    target = row["inputs"]["target"]
    apart = [int(poisson_base_stock_for_fill_rate(p, target).sum()) for p in row["inputs"]["pipelines"]]
    pooled = [int(poisson_base_stock_for_fill_rate(sum(p), target)) for p in row["inputs"]["pipelines"]]
    assert (apart, pooled) == (row["expected"]["apart_total"], row["expected"]["pooled"])


@pytest.mark.parametrize("name", [*check_ids("P_sub"), "P_chain"])
@pytest.mark.parametrize("method", [expected_shortage, shortage_by_enumeration])
def test_shortage_under_one_way_cover(name, method):
    row = check(name)
    given = row["inputs"]
    covers = [[item - 1 for item in cover] for cover in given["covers"]]
    graph = shared_stock(given["stock"], covers, len(given["demand_mean"]))
    result = method(graph, [poisson(mean) for mean in given["demand_mean"]])
    agrees(row, "expected_short", result.expected_short)
    agrees(row, "p_no_short", result.no_short)


@pytest.mark.parametrize("name", check_ids("S_greedy"))
def test_buys_in_order_of_backorders_avoided_per_money(name):
    row = check(name)
    steps = row["expected"]["steps"]
    laws = [poisson(mean) for mean in row["inputs"]["pipelines"]]
    buys = marginal_buys(laws, row["inputs"]["unit_cost"], budget=steps[-1]["spend"])
    assert [list(buy.stock) for buy in buys] == [step["stock"] for step in steps]
    assert [buy.spend for buy in buys] == [step["spend"] for step in steps]
    np.testing.assert_allclose(
        [buy.total_ebo for buy in buys], [step["total_ebo"] for step in steps], rtol=row["rel_tol"]
    )


def test_availability():
    row = check("S_avail")
    given = row["inputs"]
    agrees(row, "A", availability(given["EBO"], given["machines"], given["per_machine"]))


def test_two_echelons():
    row = check("S_metric")
    given = row["inputs"]
    bases = [
        Base(rate, given["repair_here"], given["base_repair"], given["ship"], stock)
        for rate, stock in zip(given["base_rate"], given["base_stock"], strict=True)
    ]
    plain = metric(bases, given["depot_repair"], given["depot_stock"])
    better = vari_metric(bases, given["depot_repair"], given["depot_stock"])
    agrees(row, "depot_pipeline", plain.depot_pipeline)
    agrees(row, "depot_EBO", plain.depot_ebo)
    agrees(row, "base_pipeline", plain.pipelines[0])
    agrees(row, "base_EBO_METRIC", plain.base_ebo[0])
    agrees(row, "base_pipeline_var", better.variances[0])
    agrees(row, "base_EBO_VARI", better.base_ebo[0])


def test_ranked_probability_score_of_a_poisson_law():
    row = check("C_rps")
    within = poisson(row["inputs"]["mu"], tail_mass=1e-15).chances_within()
    agrees(row, "crps", ranked_probability_score(within, row["inputs"]["y"]))

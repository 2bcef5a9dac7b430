"""Every published or recomputed check row, compared at the tolerance it states. Sources stand in the rows."""

import numpy as np
import pytest

from inventory.stocking.base_stock import poisson_base_stock
from inventory.stocking.cover import expected_shortage, shared_stock
from inventory.stocking.forecast_scores import ranked_probability_score
from inventory.stocking.intermittent import classify, croston_rates, sba_rates, tsb_rates
from inventory.stocking.lead_time_demand import compound, from_pmf, poisson
from inventory.stocking.least_cost import economic_order_quantity, erlang_loss
from inventory.stocking.mixtures import gamma_lead_time
from inventory.stocking.service_levels import ServiceProfile
from tests.inventory.stocking.published import agrees, car_parts, check, check_ids, checks
from tests.inventory.stocking.reference import marginal_buys, plain_croston, shortage_by_enumeration


def test_every_row_is_compared():
    own = {"D01", "D02", "D03", "D04", "D05", "D06", "D07", "L01", "L02", "L03", "B_rQ", "B_EOQ"}
    own |= {"B_NVP", "P_pool", "C_rps"}
    families = ("B_EBO", "B_min", "B_DT", "B_ERL", "P_sub", "P_chain", "S_greedy")
    assert {name for name in checks() if name not in own and not name.startswith(families)} == set()


def record_of(row):
    return np.array([row["inputs"]["series"]], dtype=float)


def test_croston_on_the_published_series():
    row = check("D01")
    size, interval, forecast = plain_croston(row["inputs"]["series"], row["inputs"]["alpha"])
    agrees(row, "size", size)
    agrees(row, "interval", interval)
    agrees(row, "forecast", forecast)
    agrees(row, "forecast", croston_rates(record_of(row), row["inputs"]["alpha"])[0])


def test_sba_on_the_published_series():
    row = check("D02")
    agrees(row, "forecast", sba_rates(record_of(row), row["inputs"]["alpha"])[0])


@pytest.mark.parametrize("name", ["D03", "D04"])
def test_tsb_on_the_published_series(name):
    row = check(name)
    given = row["inputs"]
    rates = tsb_rates(record_of(row), alpha_size=given["alpha_d"], alpha_probability=given["alpha_p"])
    agrees(row, "forecast", rates[0])


def test_classification_of_the_published_series():
    row = check("D05")
    result = classify(record_of(row))
    agrees(row, "ADI_periods_per_demand", result.interval[0])
    agrees(row, "CV2_population", result.size_cv2[0])
    assert result.demand_class[0] == row["expected"]["class"]


def test_car_parts_fall_into_their_classes():
    classes = classify(car_parts()).demand_class
    expected = check("D06")["expected"]
    assert {name: int((classes == name).sum()) for name in expected} == expected


def test_the_other_divisor_would_move_79_car_parts():
    demand = car_parts()
    result = classify(demand)
    demands = (demand > 0).sum(axis=1)
    sample = result.size_cv2 * np.where(demands > 1, demands / np.maximum(demands - 1, 1), 1)
    lumpy = int(((result.interval >= 1.32) & (sample >= 0.49)).sum())
    assert lumpy == check("D07")["expected"]["lumpy"]
    assert lumpy - (result.demand_class == "lumpy").sum() == 79


@pytest.mark.parametrize("name", ["L01", "L02"])
def test_poisson_jobs_that_take_a_geometric_number_of_pieces(name):
    row = check(name)
    more = row["inputs"]["geometric_q"]
    sizes = np.append(0.0, (1 - more) * more ** np.arange(int(np.log(1e-18) / np.log(more)) + 2))
    demand = from_pmf(compound(poisson(row["inputs"]["orders_mean"], tail_mass=1e-15).pmf, sizes))
    agrees(row, "pmf0_5", demand.pmf[:6])
    agrees(row, "mean", demand.mean)
    agrees(row, "variance", demand.variance)
    assert demand.smallest_within(0.95) == row["expected"]["q95"]


def test_gamma_lead_time():
    row = check("L03")
    given = row["inputs"]
    demand = gamma_lead_time(given["rate"], given["lead_mean"], given["lead_mean"] * given["lead_cv"])
    agrees(row, "mean", demand.mean)
    agrees(row, "variance", demand.variance)
    agrees(row, "pmf0_4", demand.pmf[:5])
    assert demand.smallest_within(0.95) == row["expected"]["q95"]
    fixed = poisson(given["rate"] * given["lead_mean"])
    assert fixed.smallest_within(0.95) == row["expected"]["q95_if_lead_fixed"]


@pytest.mark.parametrize("name", check_ids("B_EBO"))
def test_expected_backorders(name):
    row = check(name)
    demand = poisson(row["inputs"]["pipeline"])
    agrees(row, "EBO", demand.expected_above_each(8))
    agrees(row, "EBO", [demand.expected_above(stock) for stock in range(9)])


@pytest.mark.parametrize("name", check_ids("B_min"))
def test_smallest_base_stock(name):
    row = check(name)
    target, demand = row["inputs"]["target"], poisson(row["inputs"]["pipeline"])
    profile = ServiceProfile(demand, 1)
    fill = profile.smallest_for_fill_rate(target) + 1
    ready = int(poisson_base_stock(np.array([row["inputs"]["pipeline"]]), target)[0])
    assert (fill, ready) == (row["expected"]["S_fill"], row["expected"]["S_no_backorder"])
    assert demand.smallest_within(target) == ready
    agrees(row, "fill", 1 - profile.unfilled[fill])
    agrees(row, "EBO_at_S_fill", profile.expected_backorders[fill])
    agrees(row, "mean_on_hand_at_S_fill", profile.on_hand[fill])
    agrees(row, "p_no_backorder", demand.chance_within(ready))


def test_reorder_point_and_order_quantity():
    row = check("B_rQ")
    given = row["inputs"]
    demand = poisson(given["mean_demand"] * given["lead"])

    def yearly(point, quantity):
        profile = ServiceProfile(demand, quantity)
        held, waiting = profile.on_hand[point + 1], profile.expected_backorders[point + 1]
        return given["h"] * held + given["p"] * waiting + given["K"] * given["mean_demand"] / quantity

    profile, place = ServiceProfile(demand, given["Q"]), given["r"] + 1
    agrees(row, "cost", yearly(given["r"], given["Q"]))
    agrees(row, "fill", 1 - profile.unfilled[place])
    agrees(row, "EBO", profile.expected_backorders[place])
    agrees(row, "on_hand", profile.on_hand[place])
    best = min(((r, q) for r in range(12) for q in range(1, 15)), key=lambda pair: yearly(*pair))
    assert best == (row["expected"]["optimal_r"], row["expected"]["optimal_Q"])


def test_economic_order_quantity():
    row = check("B_EOQ")
    fixed, holding, demand = row["inputs"]["K"], row["inputs"]["h"], row["inputs"]["demand"]
    root = (2 * fixed * demand / holding) ** 0.5
    agrees(row, "Q", root)
    agrees(row, "cost", fixed * demand / root + holding * root / 2)
    assert economic_order_quantity(fixed, holding, demand) == round(root)


@pytest.mark.parametrize("name", ["B_NVP", *check_ids("B_DT")])
def test_the_cheapest_stock_is_the_one_within_the_critical_ratio(name):
    row = check(name)
    given = row["inputs"]
    holding, backorder = given["h"], given.get("p") or given["b"]
    # The distribution is cut off where its tail is small against an hour of downtime too: 4 million times 1e-12 would show.
    demand = poisson(given.get("mu") or given["pipeline"], tail_mass=1e-18)
    ratio = backorder / (backorder + holding)
    stock = demand.smallest_within(ratio)
    short = demand.expected_above(stock)
    assert stock == row["expected"]["S"]
    agrees(
        row,
        "cost" if "cost" in row["expected"] else "cost_rate",
        holding * (stock - demand.mean + short) + backorder * short,
    )
    if "critical_ratio" in row["expected"]:
        agrees(row, "critical_ratio", ratio)


@pytest.mark.parametrize("name", check_ids("B_ERL"))
def test_erlang_loss(name):
    row = check(name)
    agrees(row, "loss", erlang_loss(row["inputs"]["S"], row["inputs"]["pipeline"]))


def test_pooling_needs_fewer_pieces():
    row = check("P_pool")

    def stock_for(pipeline):
        return ServiceProfile(poisson(pipeline), 1).smallest_for_fill_rate(row["inputs"]["target"]) + 1

    apart = [sum(map(stock_for, pipelines)) for pipelines in row["inputs"]["pipelines"]]
    pooled = [stock_for(sum(pipelines)) for pipelines in row["inputs"]["pipelines"]]
    assert (apart, pooled) == (row["expected"]["apart_total"], row["expected"]["pooled"])


@pytest.mark.parametrize("name", [*check_ids("P_sub"), "P_chain"])
def test_shortage_under_one_way_cover(name):
    row = check(name)
    given = row["inputs"]
    covers = [[item - 1 for item in cover] for cover in given["covers"]]
    graph = shared_stock(given["stock"], covers, len(given["demand_mean"]))
    demands = [poisson(mean) for mean in given["demand_mean"]]
    found = expected_shortage(graph, demands)
    for expected, none in (
        (found.expected_short, found.no_short),
        shortage_by_enumeration(graph, demands),
    ):
        agrees(row, "expected_short", expected)
        agrees(row, "p_no_short", none)


@pytest.mark.parametrize("name", check_ids("S_greedy"))
def test_buys_in_order_of_backorders_avoided_per_money(name):
    """By the marginal analysis with which the order of a budget's buys is compared."""
    row = check(name)
    steps = row["expected"]["steps"]
    demands = [poisson(mean) for mean in row["inputs"]["pipelines"]]
    buys = marginal_buys(demands, row["inputs"]["unit_cost"], budget=steps[-1]["spend"])
    assert [list(buy.stock) for buy in buys] == [step["stock"] for step in steps]
    assert [buy.spend for buy in buys] == [step["spend"] for step in steps]
    np.testing.assert_allclose(
        [buy.total_ebo for buy in buys], [step["total_ebo"] for step in steps], rtol=row["rel_tol"]
    )


def test_ranked_probability_score_of_a_poisson_demand():
    row = check("C_rps")
    within = poisson(row["inputs"]["mu"], tail_mass=1e-15).chances_within()
    observed = np.array(row["inputs"]["y"])
    agrees(
        row, "crps", ranked_probability_score(np.broadcast_to(within, (len(observed), len(within))), observed)
    )

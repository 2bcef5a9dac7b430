from decimal import Decimal
from itertools import pairwise

import pytest

from api.screens.planning.budget_chart import FRAME, LETTER, budget_chart, short
from inventory.planning.budget_frontier import Frontier, Point, StockValue

SUMS = ("on_shelves", "on_hold", "reserved", "on_order", "weighed", "left_out")


def point(spend, cost):
    return Point(
        spend=Decimal(spend), downtime_hours_per_year=cost / 100, downtime_cost_per_year=Decimal(cost)
    )


def frontier(*points, today=None):
    return Frontier(
        currency="EUR",
        budget=Decimal(1000),
        buys=(),
        further_buys=0,
        after_buys=points[0],
        today=today or points[0],
        best_for_the_same_money=points[0],
        curve=points,
        by_drive=(),
        stock_value=StockValue(**dict.fromkeys(SUMS, Decimal(0)), items_without_value=0),
        left_out=(),
        method=(),
    )


def test_the_curve_goes_down_in_steps():
    curve = budget_chart(frontier(point(0, 900), point(40, 300), point(100, 90)))
    assert curve.path.count("H") == curve.path.count("V") == 2
    heights = [float(step.split("H")[0]) for step in curve.path.split("V")[1:]]
    assert all(upper < lower for upper, lower in pairwise(heights))


@pytest.mark.parametrize(
    ("costs", "is_tenfold"),
    [((900, 100), False), ((9_000_000, 100), True), ((5, 0), False), ((900, 0), True)],
)
def test_costs_far_apart_are_drawn_tenfold(costs, is_tenfold):
    curve = budget_chart(frontier(point(0, costs[0]), point(40, costs[1])))
    assert curve.costs.is_tenfold is is_tenfold
    assert [y for y, _ in curve.levels] == pytest.approx(sorted((y for y, _ in curve.levels), reverse=True))


@pytest.mark.parametrize("today", [point(0, 5), point(500, 900), point(99_000, 10**9)])
def test_today_and_its_words_stay_on_the_sheet(today):
    mark = budget_chart(frontier(point(0, 900), point(40, 300), today=today)).today
    assert FRAME.top <= mark.y <= FRAME.base
    assert mark.side == "end" or mark.word_x + LETTER * len(mark.words) <= FRAME.width


def test_without_a_curve_nothing_is_drawn():
    assert budget_chart(frontier(point(0, 0))) is None


def test_the_table_under_it_keeps_both_ends():
    points = [point(spend, 10_000 - spend) for spend in range(0, 1000, 2)]
    kept = budget_chart(frontier(*points)).points
    assert len(kept) <= 26
    assert (kept[0], kept[-1]) == (points[0], points[-1])


@pytest.mark.parametrize(
    ("value", "words"), [(0, "0"), (950, "950"), (7500, "7.5k"), (1.2e6, "1.2M"), (3e9, "3bn")]
)
def test_amounts_of_an_axis_are_short(value, words):
    assert short(value) == words

from decimal import Decimal
from itertools import pairwise

import pytest

from api.screens.charts.axes import short
from api.screens.planning.budget_chart import budget_chart, some_of
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
    curve = dict(budget_chart(frontier(point(0, 900), point(40, 300), point(100, 90))).picture.paths)[
        "c-line"
    ]
    assert curve.count("H") == curve.count("V") == 2
    heights = [float(step.split("H")[0]) for step in curve.split("V")[1:]]
    assert all(upper < lower for upper, lower in pairwise(heights))


def test_what_decides_is_written_in_the_picture():
    chart = budget_chart(frontier(point(0, 900), point(40, 300), today=point(40, 700)))
    words = [text.text for text in chart.picture.words if text.kind in ("strong", "")]
    assert words == ["today 700 EUR a year", "best 900 EUR a year"]


def test_without_a_curve_nothing_is_drawn():
    assert budget_chart(frontier(point(0, 0))) is None


def test_the_table_under_it_keeps_both_ends():
    points = [point(spend, 10_000 - spend) for spend in range(0, 1000, 2)]
    kept = some_of(points)
    assert len(kept) <= 26
    assert (kept[0], kept[-1]) == (points[0], points[-1])


@pytest.mark.parametrize(
    ("value", "words"), [(0, "0"), (950, "950"), (7500, "7.5k"), (1.2e6, "1.2M"), (3e9, "3bn")]
)
def test_amounts_of_an_axis_are_short(value, words):
    assert short(value) == words

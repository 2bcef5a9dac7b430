"""Every chart with invented data of all sizes: no text is clipped or lies on another one, no path leaves the drawing."""

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import combinations
from types import SimpleNamespace

import pytest
from django.utils import translation
from hypothesis import given, settings
from hypothesis import strategies as st

from api.screens.charts.picture import WIDTH
from api.screens.history import WearReading
from api.screens.planning.budget_chart import budget_chart
from api.screens.planning.demand_chart import demand_chart
from api.screens.planning.evidence import DemandRow, LifeRow
from api.screens.planning.exposure_chart import exposure_chart
from api.screens.planning.lead_time_chart import bins_of, lead_time_chart
from api.screens.planning.life_chart import life_chart
from api.screens.planning.promise_chart import promise_chart
from api.screens.wear_chart import wear_chart
from drives.lessons.wear_notice import PositionNotice
from inventory.planning.budget_frontier import Point
from inventory.stocking.backtest import Promise
from tests.examples import some_of

FROM = datetime(2001, 5, 1, tzinfo=UTC)
NUMBER = re.compile(r"-?[0-9.]+")
LANGUAGES = st.sampled_from(["en", "de", "es"])
SHARES = st.floats(0, 1)


def holds(chart):
    """What must be so of every chart."""
    picture = chart.picture
    texts = picture.words
    assert all(text.left >= 0 and text.right <= WIDTH + 0.01 for text in texts), [
        (text.text, text.left, text.right) for text in texts
    ]
    assert all(text.top >= 0 and text.bottom <= picture.height for text in texts)
    for one, other in combinations(texts, 2):
        is_apart = (
            one.right <= other.left
            or other.right <= one.left
            or one.bottom <= other.top + 0.5
            or other.bottom <= one.top + 0.5
        )
        assert is_apart, (one.text, other.text)
    for _kind, path in picture.paths:
        for x, y in re.findall(r"[ML](-?[0-9.]+) (-?[0-9.]+)", path):
            assert -1 <= float(x) <= WIDTH + 1
            assert -1 <= float(y) <= picture.height
    assert picture.upright.title
    assert any(text.kind == "strong" for text in texts)
    assert len(list(chart.cells)) == len(chart.rows) > 0
    assert all(len(row) == len(chart.columns) for row in chart.rows)


ROWS = st.lists(st.tuples(st.integers(0, 300), st.integers(1, 900), st.booleans(), st.booleans()), min_size=1)


@given(rows=ROWS, months=st.integers(1, 320), language=LANGUAGES)
@settings(max_examples=some_of(30), deadline=None)
def test_demand(rows, months, language):
    until = FROM + timedelta(days=30 * months)
    demand = [
        DemandRow(
            at=FROM + timedelta(days=30 * min(month, months)),
            item="41-0105",
            given="41-0105",
            position="P",
            quantity=pieces,
            result="not_filled" if is_unmet else "filled",
            work_order="",
            source="request",
            is_planned=is_planned,
        )
        for month, pieces, is_unmet, is_planned in sorted(rows)
    ]
    with translation.override(language):
        chart = demand_chart(demand, FROM, until, "pieces")
        holds(chart)
    assert sum(row[1] + row[2] for row in chart.rows) == sum(row.quantity for row in demand)
    assert all(value == int(value) for value in chart.picture.upright.scale.ticks)


@given(
    law=st.lists(SHARES, min_size=1, max_size=400),
    reorder_point=st.integers(0, 500),
    links=st.none() | st.integers(2, 400),
    language=LANGUAGES,
)
@settings(max_examples=some_of(30), deadline=None)
def test_demand_in_one_lead_time(law, reorder_point, links, language):
    total = sum(law) or 1.0
    law = [chance / total for chance in law]
    with translation.override(language):
        holds(lead_time_chart(law, reorder_point, "pieces", links))
    bins = bins_of(law, reorder_point)
    assert [one.first for one in bins[1:]] == [one.last + 1 for one in bins[:-1]]
    assert bins[0].first == 0
    assert bins[-1].last >= len(law) - 1
    assert sum(one.chance for one in bins) == pytest.approx(sum(law))
    assert len(bins) <= 26
    assert any(one.last == reorder_point for one in bins)


@given(
    hours=st.lists(st.floats(0.5, 200_000), min_size=1, max_size=30),
    counts=st.lists(st.sampled_from(["worn_out", "running", "censored"]), min_size=30, max_size=30),
    language=LANGUAGES,
)
@settings(max_examples=some_of(30), deadline=None)
def test_lives(hours, counts, language):
    counts[0] = "worn_out"
    lives = [
        LifeRow("P", "41-0105", FROM, None, hour, "meter", "", "", count)
        for hour, count in zip(hours, counts, strict=False)
    ]
    fit = {"shape": 2.2, "scale_hours": 7110.0, "shape_interval": [1.5, 3.2]}
    with translation.override(language):
        holds(life_chart(lives, fit, is_used=False))


@given(
    costs=st.lists(st.floats(0, 1e9), min_size=2, max_size=20),
    spends=st.lists(st.floats(0, 1e8), min_size=20, max_size=20),
    language=LANGUAGES,
)
@settings(max_examples=some_of(30), deadline=None)
def test_budget(costs, spends, language):
    points = tuple(
        Point(
            spend=Decimal(f"{spend:.2f}"),
            downtime_hours_per_year=cost / 1000,
            downtime_cost_per_year=Decimal(f"{cost:.2f}"),
        )
        for spend, cost in zip(sorted(spends), sorted(costs, reverse=True), strict=False)
    )
    found = SimpleNamespace(currency="EUR", curve=points, today=points[0], best_for_the_same_money=points[-1])
    with translation.override(language):
        holds(budget_chart(found))


@given(
    costs=st.lists(st.none() | st.decimals("0.01", "1e9", places=2), min_size=1, max_size=15),
    tags=st.lists(st.text("MW1-i", min_size=1, max_size=60), min_size=15, max_size=15),
    language=LANGUAGES,
)
@settings(max_examples=some_of(30), deadline=None)
def test_positions_at_risk(costs, tags, language):
    known = [cost for cost in sorted(costs, key=lambda cost: -(cost or 0)) if cost]
    risks = [
        SimpleNamespace(position=SimpleNamespace(tag=tag, currency="EUR"), expected_cost=cost)
        for tag, cost in zip(tags, [*known, None], strict=False)
    ]
    with translation.override(language):
        chart = exposure_chart(risks)
        assert (chart is None) == (not known)
        if chart:
            holds(chart)
            assert [row[1] for row in chart.rows] == known[: len(chart.rows)]


@given(shares=st.lists(st.tuples(SHARES, SHARES, SHARES, SHARES), min_size=1, max_size=5), language=LANGUAGES)
@settings(max_examples=some_of(30), deadline=None)
def test_promises(shares, language):
    promises = []
    for promised, *bounds in shares:
        low, achieved, high = sorted(bounds)
        promises.append(
            Promise("recommended", promised, achieved, low, high, "missed", False, 0.9, 1.0, None, ())
        )
    with translation.override(language):
        chart = promise_chart(promises)
        holds(chart)
    # A whisker for every interval, whatever its width.
    ranges = dict(chart.picture.paths)["c-range"]
    assert ranges.count("h10") == 2 * len(promises)


@given(
    readings=st.lists(st.tuples(st.integers(0, 5000), st.floats(0, 9)), min_size=1, max_size=24),
    limit=st.none() | st.floats(0.5, 3),
    ahead=st.none() | st.integers(0, 4000),
    language=LANGUAGES,
)
@settings(max_examples=some_of(30), deadline=None)
def test_chain_wear(readings, limit, ahead, language):
    newest_first = sorted(readings, reverse=True)
    rows = tuple(
        WearReading(
            SimpleNamespace(at=FROM + timedelta(days=days), elongation_percent=Decimal(f"{percent:.2f}")),
            limit,
        )
        for days, percent in newest_first
    )
    notice = None
    if ahead is not None and limit is not None:
        reached = date(2001, 5, 1) + timedelta(days=newest_first[0][0] + ahead)
        notice = PositionNotice(reasons=(), limit_on=reached, early_limit_on=reached, early_chance=0.1)
    with translation.override(language):
        holds(wear_chart(SimpleNamespace(readings=rows, limit=limit, notice=notice)))

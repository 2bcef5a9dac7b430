from datetime import date
from math import ceil, floor, log10

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.screens.charts.scale import calendar_scale, money_scale, nice_number, round_scale, slots

SIZES = st.floats(1e-6, 1e9)


@pytest.mark.parametrize(
    ("low", "high", "first", "last", "step"),
    # P. S. Heckbert, "Nice Numbers for Graph Labels", Graphics Gems, Academic Press 1990, both examples of its first paragraph.
    [(105, 543, 100, 600, 100), (2.04, 2.16, 2.00, 2.20, 0.05)],
)
def test_the_axes_of_the_source(low, high, first, last, step):
    scale = round_scale(high, low)
    assert (scale.low, scale.high) == pytest.approx((first, last))
    assert scale.ticks[1] - scale.ticks[0] == pytest.approx(step)


@pytest.mark.parametrize(
    ("value", "nearest", "above"),
    # The limits of the same source: 1.5, 3 and 7 to the nearest one; 1, 2 and 5 to the next one up.
    [
        (1.0, 1, 1),
        (1.4, 1, 2),
        (1.5, 2, 2),
        (2.9, 2, 5),
        (3.0, 5, 5),
        (6.9, 5, 10),
        (7.0, 10, 10),
        (0.012, 0.01, 0.02),
    ],
)
def test_the_nice_numbers_of_the_source(value, nearest, above):
    assert nice_number(value, is_rounded=True) == pytest.approx(nearest)
    assert nice_number(value, is_rounded=False) == pytest.approx(above)


@given(low=st.floats(0, 1e6), span=SIZES)
def test_an_axis_holds_its_data_between_few_round_ticks(low, span):
    high = low + span
    if high <= low or span < 1e-6 * high:
        return
    scale = round_scale(high, low)
    steps = {after - before for before, after in zip(scale.ticks, scale.ticks[1:], strict=False)}
    step = max(steps)
    assert scale.low <= low + 1e-6 * step
    assert scale.high >= high - 1e-6 * step
    assert 3 <= len(scale.ticks) <= 12
    assert max(steps) - min(steps) < 1e-5 * step
    assert is_round(step, within=1e-5)
    assert all(abs(tick / step - round(tick / step)) < 1e-4 for tick in scale.ticks)


def is_round(step, within):
    leading = step / 10 ** floor(log10(step * (1 + within)))
    return any(abs(leading - size) < 10 * within for size in (1, 2, 5))


@given(highest=st.integers(0, 10**7))
def test_whole_pieces_have_whole_ticks(highest):
    ticks = round_scale(highest, is_whole=True).ticks
    assert all(tick == int(tick) for tick in ticks)
    assert len(set(ticks)) == len(ticks) >= 2
    assert ticks[-1] >= highest


@given(amounts=st.lists(st.floats(0, 1e10), min_size=1, max_size=9))
def test_money_far_apart_is_drawn_tenfold_and_nothing_falls_off_the_axis(amounts):
    scale = money_scale(amounts)
    shown = [max(amount, 1.0) for amount in amounts]
    assert scale.is_tenfold is (max(shown) / min(shown) >= 50)
    assert max(shown) <= scale.high * (1 + 1e-9)
    assert all(0 <= scale.share(amount) <= 1 for amount in amounts)
    if scale.is_tenfold:
        assert [round(log10(tick)) for tick in scale.ticks] == list(
            range(round(log10(scale.low)), ceil(log10(scale.high)) + 1)
        )


@given(first=st.dates(date(1990, 1, 1), date(2050, 1, 1)), days=st.integers(0, 365 * 60))
def test_days_stand_between_the_firsts_of_months(first, days):
    last = date.fromordinal(first.toordinal() + days)
    scale = calendar_scale(first, last)
    assert scale.low <= first.toordinal() <= last.toordinal() <= scale.high
    found = [date.fromordinal(round(tick)) for tick in scale.ticks]
    assert all(day.day == 1 for day in found)
    assert 2 <= len(found) <= 9


def test_bars_have_slots_of_one_width():
    assert [slots(4).share(place) for place in range(4)] == [0.125, 0.375, 0.625, 0.875]

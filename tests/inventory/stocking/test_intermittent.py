import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.stocking.intermittent import (
    adida_rates,
    classify,
    croston,
    croston_rates,
    sba_rates,
    tsb_rates,
)

SERIES = st.lists(st.integers(0, 9), min_size=1, max_size=40)


def plain_croston(series, alpha):
    size = interval = None
    since = 0
    for asked in series:
        since += 1
        if asked > 0:
            size = asked if size is None else size + alpha * (asked - size)
            interval = since if interval is None else interval + alpha * (since - interval)
            since = 0
    return 0.0 if size is None else size / interval


def plain_tsb(series, alpha_size, alpha_probability):
    chance, size = float(series[0] > 0), None
    for period, asked in enumerate(series):
        if asked > 0:
            size = asked if size is None else size + alpha_size * (asked - size)
        if period:
            chance += alpha_probability * ((asked > 0) - chance)
    return chance * (size or 0)


@given(series=SERIES, alpha=st.floats(0.01, 0.99))
def test_croston_equals_the_plain_recursion(series, alpha):
    assert croston(series, alpha).forecast == pytest.approx(plain_croston(series, alpha), rel=1e-10)


@given(series=SERIES, alpha=st.floats(0.01, 0.99), other=st.floats(0.01, 0.99))
def test_tsb_equals_the_plain_recursion(series, alpha, other):
    rate = tsb_rates([series], alpha_size=alpha, alpha_probability=other)[0]
    assert rate == pytest.approx(plain_tsb(series, alpha, other), rel=1e-10, abs=1e-12)


@given(series=SERIES)
def test_an_empty_end_fades_tsb_and_leaves_croston(series):
    assert croston(series + [0] * 5).forecast == croston(series).forecast
    assert tsb_rates([series + [0] * 5])[0] <= tsb_rates([series])[0] + 1e-12


@given(series=SERIES, factor=st.integers(1, 7))
def test_rates_grow_with_the_pieces(series, factor):
    more = [asked * factor for asked in series]
    for rates in (croston_rates, sba_rates, tsb_rates, adida_rates):
        assert rates([more])[0] == pytest.approx(factor * rates([series])[0], rel=1e-9, abs=1e-12)


def test_a_matrix_is_read_as_its_rows_whatever_the_pass():
    random = np.random.default_rng(5)
    demand = random.poisson(0.2, (9000, 30)) * random.integers(1, 4, (9000, 30))
    for rates in (croston_rates, sba_rates, tsb_rates, adida_rates):
        rows = [rates(demand[[item]])[0] for item in (0, 4095, 4096, 8999)]
        assert rates(demand)[[0, 4095, 4096, 8999]].tolist() == pytest.approx(rows, rel=1e-12)


def test_a_record_without_demand_has_rate_zero_and_no_class():
    assert croston([0, 0]).forecast == croston_rates([[0, 0]])[0] == tsb_rates([[0, 0]])[0] == 0
    assert classify([[0, 0]]).demand_class[0] == "no_demand"
    assert classify([[0, 0]]).interval[0] == np.inf


def test_a_single_demand_has_no_variation():
    result = classify([[0, 0, 7, 0]])
    assert (result.interval[0], result.size_cv2[0], result.demand_class[0]) == (4, 0, "intermittent")


@pytest.mark.parametrize(
    ("series", "name"),
    [
        ([3] * 12, "smooth"),
        ([1, 9] * 6, "erratic"),
        ([0, 3] * 6, "intermittent"),
        ([0, 1, 0, 9] * 3, "lumpy"),
    ],
)
def test_the_four_classes(series, name):
    assert classify([series]).demand_class[0] == name


@pytest.mark.parametrize("series", [[], [[1, 2]], [1, float("nan")], [-1], ["x"]])
def test_it_refuses_what_is_no_record(series):
    with pytest.raises(ValueError, match="`series`"):
        croston(series)


@pytest.mark.parametrize("alpha", [0, 1, -0.1, float("nan"), True, None])
def test_it_refuses_a_constant_out_of_range(alpha):
    with pytest.raises(ValueError, match="`alpha`"):
        sba_rates([[1]], alpha)

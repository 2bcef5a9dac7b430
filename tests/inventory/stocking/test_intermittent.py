import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.stocking.demand_models import IntermittentDemand
from inventory.stocking.intermittent import classify, croston_rates, sba_rates, tsb_rates
from tests.inventory.stocking.reference import plain_croston, plain_tsb

SERIES = st.lists(st.integers(0, 9), min_size=1, max_size=40)


def rows(*series):
    return np.array(series, dtype=float)


@given(series=SERIES, alpha=st.floats(0.01, 0.99))
def test_croston_equals_the_plain_recursion(series, alpha):
    assert croston_rates(rows(series), alpha)[0] == pytest.approx(plain_croston(series, alpha)[2], rel=1e-10)


@given(series=SERIES, alpha=st.floats(0.01, 0.99), other=st.floats(0.01, 0.99))
def test_tsb_equals_the_plain_recursion(series, alpha, other):
    rate = tsb_rates(rows(series), alpha_size=alpha, alpha_probability=other)[0]
    assert rate == pytest.approx(plain_tsb(series, alpha, other), rel=1e-10, abs=1e-12)


@given(series=SERIES)
def test_an_empty_end_fades_tsb_and_leaves_croston(series):
    longer = series + [0] * 5
    assert croston_rates(rows(longer))[0] == croston_rates(rows(series))[0]
    assert tsb_rates(rows(longer))[0] <= tsb_rates(rows(series))[0] + 1e-12


@given(series=SERIES, factor=st.integers(1, 7))
def test_rates_grow_with_the_pieces(series, factor):
    for rates in (croston_rates, sba_rates, tsb_rates):
        more = rates(factor * rows(series))[0]
        assert more == pytest.approx(factor * rates(rows(series))[0], rel=1e-9, abs=1e-12)


def test_a_matrix_is_read_as_its_rows_whatever_the_pass():
    random = np.random.default_rng(5)
    demand = random.poisson(0.2, (9000, 30)) * random.integers(1, 4, (9000, 30)).astype(float)
    for rates in (croston_rates, sba_rates, tsb_rates):
        alone = [rates(demand[[item]])[0] for item in (0, 4095, 4096, 8999)]
        assert rates(demand)[[0, 4095, 4096, 8999]].tolist() == pytest.approx(alone, rel=1e-12)


def test_a_record_without_demand_has_rate_zero_and_no_class():
    none = rows([0, 0])
    assert croston_rates(none)[0] == tsb_rates(none)[0] == 0
    assert classify(none).demand_class[0] == "no_demand"
    assert classify(none).interval[0] == np.inf


def test_a_single_demand_has_no_variation():
    result = classify(rows([0, 0, 7, 0]))
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
    assert classify(rows(series)).demand_class[0] == name


@pytest.mark.parametrize("series", [[], [[1, 2]], [1, float("nan")], [-1], ["x"]])
def test_it_refuses_what_is_no_record(series):
    with pytest.raises(ValueError, match="`series`"):
        IntermittentDemand(series, 12)


@pytest.mark.parametrize("alpha", [0, 1, -0.1, float("nan"), True, None])
def test_it_refuses_a_constant_out_of_range(alpha):
    with pytest.raises(ValueError, match="`alpha`"):
        IntermittentDemand([1], 12, alpha=alpha)

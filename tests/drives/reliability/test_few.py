import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from drives.reliability.few import known_shape_bound, rate_lower, rate_upper
from tests.drives.reliability.checks_reader import check, named, near


@pytest.mark.parametrize("name", named("E_chi_"))
def test_it_gives_the_chi_square_bounds(name):
    given, expected = check(name)["inputs"], check(name)["expected"]
    for confidence in expected:
        found = rate_upper(
            given["failures"], exposure_hours=given["time"], confidence=float(confidence.rstrip("%")) / 100
        )
        assert found == near(name, confidence)


def test_a_known_shape_gives_the_published_bound():
    bound = known_shape_bound(check("E_wb")["inputs"]["times"], shape=check("E_wb")["inputs"]["shape"])
    assert bound.scale_hours == near("E_wb", "eta_if_one_failure_now")
    assert bound.scale_lower_hours == near("E_wb", "eta_lower_90")


def test_with_shape_one_the_bound_is_that_of_the_rate():
    bound = known_shape_bound([100, 250, 400], shape=1, failures=2, confidence=0.8)
    assert 1 / bound.scale_lower_hours == pytest.approx(
        rate_upper(2, exposure_hours=750, confidence=0.8), rel=1e-12
    )
    assert bound.scale_hours == pytest.approx(375)


@given(st.integers(0, 500), st.floats(1, 1e7), st.floats(0.01, 0.99))
def test_the_bounds_are_those_of_chi_square(failures, hours, confidence):
    upper = stats.chi2.ppf(confidence, 2 * failures + 2) / (2 * hours)
    assert rate_upper(failures, exposure_hours=hours, confidence=confidence) == pytest.approx(upper, rel=1e-9)
    lower = stats.chi2.ppf(1 - confidence, 2 * failures) / (2 * hours) if failures else 0
    assert rate_lower(failures, exposure_hours=hours, confidence=confidence) == pytest.approx(lower, rel=1e-9)


@given(st.integers(0, 100), st.floats(1, 1e6))
def test_the_upper_bound_keeps_its_promise(failures, hours):
    bound = rate_upper(failures, exposure_hours=hours, confidence=0.9)
    assert stats.poisson.cdf(failures, bound * hours) == pytest.approx(0.1, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: rate_upper(-1, exposure_hours=1), "`failures` must be from 0"),
        (lambda: rate_upper(0, exposure_hours=0), "`exposure_hours` must be more than 0"),
        (lambda: rate_upper(0, exposure_hours=math.nan), "`exposure_hours` must be finite"),
        (lambda: rate_lower(0, exposure_hours=1, confidence=1), "`confidence` must be between 0 and 1"),
        (lambda: known_shape_bound([], shape=2), "`hours` must hold at least one life"),
        (lambda: known_shape_bound([0.0], shape=2), "`hours` must hold at least one life"),
        (lambda: known_shape_bound([1.0], shape=0), "`shape` must be from 0.001 to 100"),
        (lambda: known_shape_bound([1.0], shape=2, failures=2), "`failures` must be from 0 to 1"),
        (lambda: known_shape_bound([1.0, -2], shape=2), r"`hours\[1\]` must be from 0"),
    ],
)
def test_it_refuses_what_is_out_of_range(call, words):
    with pytest.raises(ValueError, match=words):
        call()

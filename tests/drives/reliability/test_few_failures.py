import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from drives.reliability.few_failures import rate_upper_bound
from tests.drives.reliability.checks_reader import check, named, near


@pytest.mark.parametrize("name", named("E_chi_"))
def test_it_gives_the_chi_square_bounds(name):
    given, expected = check(name)["inputs"], check(name)["expected"]
    for confidence in expected:
        found = rate_upper_bound(
            given["failures"], exposure_hours=given["time"], confidence=float(confidence.rstrip("%")) / 100
        )
        assert found == near(name, confidence)


@given(st.integers(0, 500), st.floats(1, 1e7), st.floats(0.01, 0.99))
def test_the_bound_is_that_of_chi_square(failures, hours, confidence):
    upper = stats.chi2.ppf(confidence, 2 * failures + 2) / (2 * hours)
    assert rate_upper_bound(failures, exposure_hours=hours, confidence=confidence) == pytest.approx(
        upper, rel=1e-9
    )


@given(st.integers(0, 100), st.floats(1, 1e6))
def test_the_upper_bound_keeps_its_promise(failures, hours):
    bound = rate_upper_bound(failures, exposure_hours=hours, confidence=0.9)
    assert stats.poisson.cdf(failures, bound * hours) == pytest.approx(0.1, rel=1e-9)

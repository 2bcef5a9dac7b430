import numpy as np
import pytest
from scipy import stats

from drives.reliability.lifetimes import Lifetimes
from drives.reliability.weibull_groups import fit_adjacent_groups
from tests.drives.reliability.checks_reader import check, near, published_lifetimes, random_lifetimes

PUBLISHED = ["W_ball", "W_shock", "W_fan", "W_cage"]


def fitted(parts: list[Lifetimes]) -> list[tuple[float, float, float]]:
    """Shape, scale and log-likelihood of each, all fitted together."""
    found = fit_adjacent_groups(
        np.concatenate([part.lower_hours for part in parts]),
        observed=np.concatenate([part.is_observed for part in parts]),
        weights=np.concatenate([part.weights for part in parts]),
        starts=np.cumsum([0, *(len(part) for part in parts[:-1])]),
    )
    return list(zip(*(values.tolist() for values in found), strict=True))


def random_groups(count: int, *, seed: int = 3) -> list[Lifetimes]:
    rng = np.random.default_rng(seed)
    return [
        random_lifetimes(rng, size=int(rng.integers(3, 60)), shape=rng.uniform(0.4, 6)) for _ in range(count)
    ]


def test_the_published_samples_fitted_together_give_the_published_fits():
    fits = fitted([published_lifetimes(name) for name in PUBLISHED])
    for (shape, scale, log_likelihood), name in zip(fits, PUBLISHED, strict=True):
        assert (shape, scale) == (near(name, "shape"), near(name, "scale"))
        if "loglik" in check(name)["expected"]:
            assert log_likelihood == near(name, "loglik")


def test_a_group_gets_the_same_fit_among_others_as_alone():
    groups = random_groups(300)
    for found, lifetimes in zip(fitted(groups), groups, strict=True):
        assert found == pytest.approx(fitted([lifetimes])[0], rel=1e-10, nan_ok=True)


def test_a_general_fitter_finds_the_same_fits():
    groups = [group for group in random_groups(25, seed=8) if group.failures >= 3]
    for (shape, scale, _), lifetimes in zip(fitted(groups), groups, strict=True):
        hours, seen = lifetimes.lower_hours, lifetimes.is_observed
        censored = stats.CensoredData(uncensored=hours[seen], right=hours[~seen])
        fit = stats.weibull_min.fit(censored, 1.0, floc=0, scale=1000)
        assert (fit[0], fit[2]) == pytest.approx((shape, scale), rel=2e-4)

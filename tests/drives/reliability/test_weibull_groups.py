import numpy as np
import pytest
from scipy import stats

from drives.reliability import weibull_groups
from drives.reliability.lifetimes import Lifetimes, right_censored
from drives.reliability.weibull import fit_weibull
from drives.reliability.weibull_groups import fit_weibull_groups
from tests.drives.reliability.checks_reader import check, near, published_lifetimes, random_lifetimes

PUBLISHED = ["W_ball", "W_shock", "W_fan", "W_cage"]


def stacked(parts: list[Lifetimes], names: list[object]) -> Lifetimes:
    return right_censored(
        np.concatenate([part.lower_hours for part in parts]),
        observed=np.concatenate([part.is_observed for part in parts]),
        weights=np.concatenate([part.weights for part in parts]),
        groups=np.repeat(names, [len(part) for part in parts]),
    )


def random_groups(count: int, *, seed: int = 3) -> Lifetimes:
    rng = np.random.default_rng(seed)
    sizes = rng.integers(3, 60, count)
    return random_lifetimes(
        rng,
        size=int(sizes.sum()),
        shape=np.repeat(rng.uniform(0.4, 6, count), sizes),
        groups=np.repeat(np.arange(count), sizes),
    )


def test_the_published_samples_fitted_together_give_the_published_fits():
    fits = fit_weibull_groups(stacked([published_lifetimes(name) for name in PUBLISHED], PUBLISHED))
    for place, name in enumerate(fits.groups):
        assert fits.shape[place] == near(name, "shape")
        assert fits.scale_hours[place] == near(name, "scale")
        if "loglik" in check(name)["expected"]:
            assert fits.log_likelihood[place] == near(name, "loglik")


def test_a_group_gets_the_same_fit_among_others_as_alone():
    lifetimes = random_groups(300)
    fits = fit_weibull_groups(lifetimes)
    for place, name in enumerate(fits.groups):
        own = lifetimes.groups == name
        alone = fit_weibull(right_censored(lifetimes.lower_hours[own], observed=lifetimes.is_observed[own]))
        if alone.shape is None:
            assert np.isnan(fits.shape[place])
            continue
        found = fits.shape[place], fits.scale_hours[place], fits.log_likelihood[place]
        assert found == pytest.approx((alone.shape, alone.scale_hours, alone.log_likelihood), rel=1e-10)
        assert (fits.failures[place], fits.suspensions[place]) == (alone.failures, alone.suspensions)


def test_a_general_fitter_finds_the_same_fits():
    lifetimes = random_groups(25, seed=8)
    fits = fit_weibull_groups(lifetimes)
    for place, name in enumerate(fits.groups):
        own, seen = lifetimes.groups == name, lifetimes.is_observed
        if fits.is_too_few[place]:
            continue
        censored = stats.CensoredData(
            uncensored=lifetimes.lower_hours[own & seen], right=lifetimes.lower_hours[own & ~seen]
        )
        shape, _, scale = stats.weibull_min.fit(censored, 1.0, floc=0, scale=1000)
        assert (shape, scale) == pytest.approx((fits.shape[place], fits.scale_hours[place]), rel=2e-4)


def test_the_order_of_the_lifetimes_does_not_matter():
    lifetimes = random_groups(40)
    order = np.random.default_rng(1).permutation(len(lifetimes))
    mixed = right_censored(
        lifetimes.lower_hours[order], observed=lifetimes.is_observed[order], groups=lifetimes.groups[order]
    )
    assert fit_weibull_groups(mixed).shape == pytest.approx(
        fit_weibull_groups(lifetimes).shape, rel=1e-12, nan_ok=True
    )


def test_small_portions_give_the_same_fits(monkeypatch):
    lifetimes = random_groups(100)
    whole = fit_weibull_groups(lifetimes)
    monkeypatch.setattr(weibull_groups, "LIFETIMES_AT_ONCE", 50)
    assert fit_weibull_groups(lifetimes).shape == pytest.approx(whole.shape, rel=1e-12, nan_ok=True)


def test_groups_without_a_fit_are_named():
    hours = [5, 7, 9, 9, 4, 5, 6, 3, 8, 0]
    observed = [0, 0, 1, 1, 0, 1, 0, 1, 1, 0]
    names = ["none", "none", "tied", "tied", "tied", "one", "one", "two", "two", "zero"]
    fits = fit_weibull_groups(right_censored(hours, observed=observed, groups=names))
    assert dict(zip(fits.groups.tolist(), fits.has_maximum.tolist(), strict=True)) == {
        "none": False,
        "one": True,
        "tied": False,
        "two": True,
        "zero": False,
    }
    assert fits.failures.tolist() == [0, 1, 2, 2, 0]
    assert fits.is_too_few.all()
    assert fits.exposure_hours.tolist() == [12, 11, 22, 11, 0]


def test_lifetimes_of_very_different_length_do_not_upset_it():
    fits = fit_weibull_groups(
        right_censored(
            [1e-6, 3e-6, 9e6, 9.9e6, 1e7, 1e7 - 1, 1e7, 0],
            observed=[1, 1, 1, 1, 1, 1, 1, 0],
            groups=[1, 1, 1, 1, 2, 2, 2, 2],
        )
    )
    assert np.isfinite(fits.shape).all()
    assert fits.shape[1] > 1e6


def test_it_needs_groups_and_known_hours():
    with pytest.raises(ValueError, match="`lifetimes` must have `groups`"):
        fit_weibull_groups(right_censored([1], observed=[1]))
    with pytest.raises(ValueError, match="not between two inspections"):
        fit_weibull_groups(Lifetimes(np.array([1.0]), np.array([2.0]), groups=np.array(["a"])))


def test_no_lifetimes_give_no_fits():
    assert len(fit_weibull_groups(right_censored([], observed=[], groups=[]))) == 0

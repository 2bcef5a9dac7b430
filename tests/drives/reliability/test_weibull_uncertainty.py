import numpy as np
import pytest
from scipy import stats

from drives.reliability.lifetimes import right_censored
from drives.reliability.weibull import fit_weibull
from drives.reliability.weibull_likelihood import WeibullLikelihood
from drives.reliability.weibull_uncertainty import likely_weibulls

SHOCK_FAILURES = [6700, 9120, 12200, 13150, 14300, 17520, 20100, 20900, 22700, 26510, 27490]
SHOCK_SUSPENSIONS = [
    *(6950, 7820, 8790, 9660, 9820, 11310, 11690, 11850, 11880, 12140, 12870, 13330, 13470, 14040),
    *(17540, 17890, 18450, 18960, 18980, 19410, 20100, 20150, 20320, 23490, 27410, 27890, 28100),
]
# Shock absorbers: Meeker & Escobar, Statistical Methods for Reliability Data, 1998, table on p. 630.
SHOCK = right_censored(
    [*SHOCK_FAILURES, *SHOCK_SUSPENSIONS],
    observed=[*[True] * len(SHOCK_FAILURES), *[False] * len(SHOCK_SUSPENSIONS)],
)
FEW = right_censored([5200, 7400, 8100, 9900, 12_500, 3000, 6000], observed=[1, 1, 1, 1, 1, 0, 0])


def failing_by(laws, hours):
    return sum(one.chance * stats.weibull_min(one.shape, scale=one.scale_hours).cdf(hours) for one in laws)


def by_fine_grid(lifetimes, fit, hours):
    """The same posterior, summed over a fine grid of (ln shape, ln scale)."""
    likelihood = WeibullLikelihood.of(lifetimes)
    total = weighted = 0.0
    for shape in np.exp(np.linspace(np.log(fit.shape) - 2.0, np.log(fit.shape) + 1.5, 80)):
        for scale in np.exp(np.linspace(np.log(fit.scale_hours) - 1.2, np.log(fit.scale_hours) + 2.0, 80)):
            point = np.array([-shape * np.log(scale / likelihood.unit_hours), shape])
            weight = np.exp(likelihood.at(point).value - fit.log_likelihood)
            total += weight
            weighted -= weight * np.expm1(-((hours / scale) ** shape))
    return weighted / total


@pytest.mark.parametrize("lifetimes", [SHOCK, FEW], ids=["38 shock absorbers", "5 failures"])
def test_a_few_laws_stand_for_the_whole_posterior(lifetimes):
    fit = fit_weibull(lifetimes)
    laws = likely_weibulls(lifetimes, fit)
    assert sum(one.chance for one in laws) == pytest.approx(1.0)
    for share in (0.02, 0.1, 0.5):
        hours = stats.weibull_min(fit.shape, scale=fit.scale_hours).ppf(share)
        assert failing_by(laws, hours) == pytest.approx(by_fine_grid(lifetimes, fit, hours), abs=0.01)


def test_few_failures_leave_an_early_end_more_likely_than_the_likeliest_law_says():
    fit = fit_weibull(FEW)
    early = stats.weibull_min(fit.shape, scale=fit.scale_hours).ppf(0.01)
    assert failing_by(likely_weibulls(FEW, fit), early) > 0.02


def test_many_failures_leave_nothing_open():
    lives = stats.weibull_min(3, scale=9000).ppf((np.arange(4000) + 0.5) / 4000)
    many = right_censored(lives.tolist(), observed=[True] * 4000)
    fit = fit_weibull(many)
    assert failing_by(likely_weibulls(many, fit), 3000.0) == pytest.approx(
        stats.weibull_min(3, scale=9000).cdf(3000.0), abs=1e-3
    )

import numpy as np
import pytest
from scipy import stats

from inventory.stocking.predictions import NegativeBinomialPrediction

MEANS = np.array([0.0, 1e-6, 0.3, 2.0, 40.0, 900.0, 5.0, 5.0])
VARIANCES = np.array([0.0, 5e-6, 0.4, 60.0, 41.0, 2700.0, 5.0 * (1 + 1e-7), 5.0])


def test_chances_are_those_of_the_negative_binomial_law():
    within = NegativeBinomialPrediction(MEANS, VARIANCES).within(2000)
    size, success = MEANS[1:7] ** 2 / (VARIANCES[1:7] - MEANS[1:7]), MEANS[1:7] / VARIANCES[1:7]
    expected = stats.nbinom.cdf(np.arange(2001), size[:, None], success[:, None])
    np.testing.assert_allclose(within[1:7], expected, atol=1e-9)


def test_without_spread_beyond_chance_it_is_poisson():
    within = NegativeBinomialPrediction(MEANS, VARIANCES).within(60)
    assert within[0].tolist() == [1.0] * 61
    assert within[7] == pytest.approx(stats.poisson.cdf(range(61), 5.0))


@pytest.mark.parametrize("target", [0.5, 0.95, 0.999])
def test_the_stock_is_the_first_that_reaches_the_target(target):
    prediction = NegativeBinomialPrediction(MEANS, VARIANCES)
    within, stock = prediction.within(3000), prediction.stock(target)
    rows = np.arange(len(MEANS))
    assert (within[rows, stock] >= target - 1e-9).all()
    assert (within[rows, np.maximum(stock - 1, 0)] < target).tolist() == (stock > 0).tolist()

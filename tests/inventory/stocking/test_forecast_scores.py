import numpy as np
import pytest
from scipy import integrate, stats

from inventory.stocking.forecast_scores import mean_pit_histogram, ranked_probability_score
from inventory.stocking.lead_time_demand import poisson


@pytest.mark.parametrize("observed", [0, 3, 9, 40])
def test_the_score_is_the_integral_over_the_law(observed):
    within = poisson(3).chances_within()

    def gap(x):
        return (stats.poisson.cdf(np.floor(x), 3) - (x >= observed)) ** 2

    direct = sum(integrate.quad(gap, k, k + 1)[0] for k in range(60))
    assert ranked_probability_score(within, [observed])[0] == pytest.approx(direct, rel=1e-6)


def test_the_right_law_scores_best_on_the_mean():
    seen = np.random.default_rng(2).poisson(3, 20_000)
    scores = [
        ranked_probability_score(poisson(mean).chances_within(), seen).mean() for mean in (2.5, 3.0, 3.5)
    ]
    assert scores[1] == min(scores)


def test_the_histogram_of_the_right_law_is_flat():
    seen = np.random.default_rng(2).poisson(0.7, 50_000)
    assert mean_pit_histogram(poisson(0.7).chances_within(), seen) == pytest.approx(
        np.full(10, 0.1), abs=0.006
    )


def test_a_law_too_low_fills_the_last_bin():
    seen = np.random.default_rng(2).poisson(2.0, 5000)
    assert mean_pit_histogram(poisson(0.7).chances_within(), seen)[-1] > 0.3


def test_a_demand_beyond_the_law_counts_in_full():
    assert mean_pit_histogram([0.5, 1.0], [7], bins=4).tolist() == [0, 0, 0, 1]


@pytest.mark.parametrize(
    ("within", "observed", "name"),
    [
        ([1.0], [0.5], "observed"),
        ([1.0], [-1], "observed"),
        ([[1.0]], [1, 2], "within"),
        ([1.5], [1], "within"),
    ],
)
def test_it_refuses_what_does_not_match(within, observed, name):
    with pytest.raises(ValueError, match=f"`{name}`"):
        ranked_probability_score(within, observed)

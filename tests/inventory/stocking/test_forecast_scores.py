import numpy as np
import pytest
from scipy import integrate, stats

from inventory.stocking.forecast_scores import mean_pit_histogram, ranked_probability_score
from inventory.stocking.lead_time_demand import poisson

SEED = 2


def within(mean, items):
    """P(demand <= x) of a Poisson demand, for so many items alike."""
    chances = poisson(mean).chances_within()
    return np.broadcast_to(chances, (items, len(chances)))


@pytest.mark.parametrize("observed", [0, 3, 9, 40])
def test_the_score_is_the_integral_over_the_distribution(observed):
    def gap(x):
        return (stats.poisson.cdf(np.floor(x), 3) - (x >= observed)) ** 2

    direct = sum(integrate.quad(gap, k, k + 1)[0] for k in range(60))
    score = ranked_probability_score(within(3.0, 1), np.array([observed]))
    assert score[0] == pytest.approx(direct, rel=1e-6)


def test_the_right_distribution_scores_best_on_the_mean():
    seen = np.random.default_rng(SEED).poisson(3, 20_000)
    scores = [ranked_probability_score(within(mean, 20_000), seen).mean() for mean in (2.5, 3.0, 3.5)]
    assert scores[1] == min(scores)


def test_the_histogram_of_the_right_distribution_is_flat():
    seen = np.random.default_rng(SEED).poisson(0.7, 50_000)
    assert mean_pit_histogram(within(0.7, 50_000), seen) == pytest.approx(np.full(10, 0.1), abs=0.006)


def test_a_distribution_too_low_fills_the_last_bin():
    seen = np.random.default_rng(SEED).poisson(2.0, 5000)
    assert mean_pit_histogram(within(0.7, 5000), seen)[-1] > 0.3


def test_a_demand_beyond_the_distribution_counts_in_full():
    chances = np.array([[0.5, 1.0]])
    assert mean_pit_histogram(chances, np.array([7]), bins=4).tolist() == [0, 0, 0, 1]
    assert ranked_probability_score(chances, np.array([3])).tolist() == [2.25]

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from inventory.stocking.lead_time_demand import (
    LeadTimeDemand,
    compound,
    compound_of_seen,
    convolve,
    from_pmf,
    negative_binomial,
    poisson,
)
from inventory.stocking.mixtures import gamma_lead_time, gamma_poisson, over_gamma_lead_time

MEANS = st.floats(1e-6, 300)


@given(mean=MEANS)
def test_poisson_agrees_with_scipy(mean):
    demand = poisson(mean)
    pieces = np.arange(len(demand))
    np.testing.assert_allclose(demand.pmf, stats.poisson.pmf(pieces, mean), rtol=1e-9, atol=1e-300)
    assert stats.poisson.sf(len(demand) - 1, mean) <= 1e-12


@given(mean=MEANS, excess=st.floats(0.01, 20))
def test_negative_binomial_agrees_with_scipy(mean, excess):
    demand = negative_binomial(mean, mean * (1 + excess))
    expected = stats.nbinom.pmf(np.arange(len(demand)), mean / excess, 1 / (1 + excess))
    np.testing.assert_allclose(demand.pmf, expected, rtol=1e-8, atol=1e-14)


@given(mean=st.floats(0.01, 50), excess=st.floats(0, 5), chance=st.floats(0.01, 0.9999))
def test_expected_backorders_fall_by_the_chance_of_more(mean, excess, chance):
    demand = negative_binomial(mean, mean * (1 + excess))
    stock = demand.smallest_within(chance)
    step = demand.expected_above(stock) - demand.expected_above(stock + 1)
    assert step == pytest.approx(demand.chance_above(stock), rel=1e-6, abs=1e-9)
    assert demand.chance_within(stock) >= chance - 1e-9
    assert stock == 0 or demand.chance_within(stock - 1) < chance


@given(mean=st.floats(0.01, 40), sd=st.sampled_from([1e-12, 1e-9, 1e-6]))
def test_a_vanishing_spread_gives_the_poisson_distribution(mean, sd):
    fixed = poisson(mean)
    for demand in (gamma_lead_time(mean, 1.0, sd), gamma_poisson(mean * 1e12, 1e12, 1.0, sd)):
        shown = min(len(demand), len(fixed))
        np.testing.assert_allclose(demand.pmf[:shown], fixed.pmf[:shown], atol=2e-9)


@pytest.mark.parametrize(
    ("shape", "exposure", "mean", "sd"),
    [(2, 4, 1, 0.5), (0.5, 2, 0.12, 0.3), (30, 3, 0.1, 0.001), (5000, 100, 0.2, 0.1), (3, 1, 0.1, 0.5)],
)
def test_an_uncertain_rate_over_a_gamma_lead_time_agrees_with_quadrature(shape, exposure, mean, sd):
    demand = gamma_poisson(shape, exposure, mean, sd)
    cv2 = (sd / mean) ** 2

    def chance(share, pieces):
        window = stats.gamma.ppf(share, 1 / cv2, scale=mean * cv2)
        return stats.nbinom.pmf(pieces, shape, exposure / (exposure + window))

    for pieces in (0, 1, 2, 5):
        direct = integrate.quad(chance, 0, 1, args=(pieces,), limit=300)[0]
        assert demand.pmf[pieces] == pytest.approx(direct, abs=1e-8)


@pytest.mark.parametrize(("rate", "sd"), [(2, 0.75), (20, 1.5), (0.3, 3.0)])
def test_mixing_a_poisson_demand_over_the_lead_time_gives_the_negative_binomial(rate, sd):
    mixed = over_gamma_lead_time(lambda window: poisson(rate * window).pmf, 1.5, sd)
    closed = gamma_lead_time(rate, 1.5, sd)
    shown = min(len(mixed), len(closed))
    np.testing.assert_allclose(mixed.pmf[:shown], closed.pmf[:shown], atol=2e-6)


def test_a_compound_demand_agrees_with_the_sum_over_jobs():
    sizes = np.array([0.1, 0.5, 0.0, 0.4])
    demand = from_pmf(compound(poisson(1.7).pmf, sizes))
    total, power = np.zeros(60), np.array([1.0])
    for jobs in range(40):
        total[: min(len(power), 60)] += stats.poisson.pmf(jobs, 1.7) * power[:60]
        power = np.convolve(power, sizes)
    np.testing.assert_allclose(demand.pmf[:40], total[:40], atol=1e-12)
    assert (demand.mean, demand.variance) == pytest.approx((1.7 * 1.7, 1.7 * 4.1))


def test_jobs_of_one_piece_are_the_jobs():
    jobs = poisson(2.5).pmf
    np.testing.assert_allclose(compound(jobs, np.array([0.0, 1.0])), jobs)


@given(first=st.floats(0.01, 20), second=st.floats(0.01, 20))
def test_poisson_demands_add_up(first, second):
    both, whole = convolve(poisson(first), poisson(second)), poisson(first + second)
    shown = min(len(both), len(whole))
    np.testing.assert_allclose(both.pmf[:shown], whole.pmf[:shown], atol=1e-11)
    assert both.mean == pytest.approx(whole.mean)


def test_no_demand_at_all_is_a_distribution():
    assert poisson(0.0).pmf.tolist() == [1.0]
    assert negative_binomial(0, 3).smallest_within(0.99) == 0


def test_a_distribution_cannot_be_written_to():
    with pytest.raises(ValueError, match="read-only"):
        poisson(1).pmf[0] = 0


@pytest.mark.parametrize("pmf", [[], [0.5], [1.2, -0.2], [float("nan")], [[1.0]], ["x"], [0.5, float("inf")]])
def test_it_refuses_what_is_no_distribution(pmf):
    with pytest.raises(ValueError, match="`pmf`"):
        from_pmf(pmf)


def test_it_refuses_a_distribution_too_long_to_write_out():
    with pytest.raises(ValueError, match="within 1,000,000 pieces"):
        negative_binomial(1e6, 1e12)
    with pytest.raises(ValueError, match="`mean`"):
        poisson(2e6)


def test_the_value_keeps_what_it_was_given():
    demand = LeadTimeDemand(np.array([0.25, 0.75]), 0.75, 0.1875)
    assert (demand.chance_above(-1), demand.chance_above(0), demand.chance_within(5)) == (1, 0.75, 1)
    assert demand.expected_above_each(3).tolist() == [0.75, 0, 0, 0]


def test_sizes_of_few_jobs_are_uncertain_for_all_jobs_together():
    jobs, seen = np.array([0.4, 0.3, 0.2, 0.1]), [1, 1, 2, 4]
    random, runs = np.random.default_rng(11), 400_000
    shares = random.dirichlet([2, 1, 1], runs)
    taken = random.choice(4, runs, p=jobs)
    draws = (random.uniform(size=(runs, 3, 1)) > np.cumsum(shares, axis=1)[:, None, :]).sum(axis=2)
    pieces = np.where(np.arange(3) < taken[:, None], np.array([1, 2, 4])[draws], 0).sum(axis=1)
    found = compound_of_seen(jobs, seen)
    # Four standard errors of a share.
    np.testing.assert_allclose(found, np.bincount(pieces, minlength=13) / runs, atol=4 * 0.5 / np.sqrt(runs))
    spread = from_pmf(found).variance
    assert from_pmf(found).mean == pytest.approx(from_pmf(compound(jobs, np.bincount(seen) / 4)).mean)
    assert spread > from_pmf(compound(jobs, np.bincount(seen) / 4)).variance


def test_equal_sizes_and_very_many_jobs_leave_nothing_open():
    jobs = poisson(1.2).pmf
    np.testing.assert_allclose(compound_of_seen(jobs, [80, 80]), compound(jobs, np.eye(1, 81, 80)[0]))
    many = [1, 2] * 150
    np.testing.assert_allclose(compound_of_seen(jobs, many), compound(jobs, np.array([0, 0.5, 0.5])))

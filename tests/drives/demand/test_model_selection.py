"""Which model the history of a pool can carry."""

import numpy as np
import pytest
from scipy import stats

from drives.demand.families import Families, Prior
from drives.demand.model_selection import choose, monthly
from inventory.stocking.lead_time_demand import compound
from tests.drives.demand.made import asking, failing, life, plant, pool, position

PRIOR = Prior(0.8, 4.0, "a family", 8, "A family lends.")
HOURS = 8760.0


def lives_of(shape, scale, count=24):
    """Lives that lie as a Weibull law has them: its quantiles, evenly."""
    shares = (np.arange(count) + 0.5) / count
    return scale * (-np.log1p(-shares)) ** (1 / shape)


def worn_pool(shape=4.0, *, ages=(1000.0, 9000.0), sudden=0, planned=0, ended_by="failure", years=40.0):
    """Two positions whose units wore out one after another, each end asked for by its order, and two units that run."""
    lives, askings = [], []
    for index, hours in enumerate(lives_of(shape, 10_000.0)):
        place, at = 1 + index % 2, 1.0 + index
        lives.append(life(place, float(hours), ended_by, at=at, work_order=f"WO-{index}"))
        is_planned = ended_by == "preventive"
        askings.append(asking(at, place, work_order=f"WO-{index}", is_planned=is_planned))
    lives += [life(1 + index, age) for index, age in enumerate(ages)]
    askings += [asking(26.0 + index, 1, work_order=f"S-{index}") for index in range(sudden)]
    askings += [
        asking(30.0 + index / 50, 2, work_order=f"P-{index}", is_planned=True) for index in range(planned)
    ]
    return pool(1, positions=[position(1), position(2)], asked=askings, lives=lives, years=years)


def padded(law, size):
    return np.pad(np.asarray(law), (0, max(size - len(law), 0)))[:size]


def test_every_day_events_are_counted_and_drawn_towards_the_family():
    choice = choose(failing(1, 3, years=6.0), PRIOR)
    assert (choice.model, choice.rate_per_year) == ("gamma_poisson", pytest.approx(3.8 / 10))
    law = choice.demand.over(73.0, 0.0, 1e-12)
    # By hand: a negative binomial law of size 3.8 with odds 0.2 years in 10.
    expected = stats.nbinom(3.8, 10 / 10.2).pmf(np.arange(6))
    assert padded(law.pmf, 6) == pytest.approx(expected, abs=1e-10)
    assert choice.reasons[-1] == PRIOR.sentence


def test_positions_of_a_pool_add_up():
    two = pool(1, positions=[position(1), position(2)], asked=[asking(1, 1), asking(2, 2)])
    assert choose(two, PRIOR).rate_per_year == pytest.approx(2 * 2.8 / 14)


def test_lives_without_any_sign_of_age_do_not_earn_a_law():
    choice = choose(worn_pool(1.0), PRIOR)
    assert choice.model == "gamma_poisson"
    assert any("do not say that age matters" in reason for reason in choice.reasons)
    assert choice.evidence["fit"]["shape_interval"][0] < 1


def test_strong_wear_does_and_says_why():
    choice = choose(worn_pool(4.0), PRIOR)
    assert choice.model == "weibull_renewal"
    assert "lies above 1, so age matters" in choice.reasons[0]
    assert choice.evidence["fit"]["shape"] == pytest.approx(4.0, rel=0.15)
    assert choice.evidence["fit"]["failures"] == 24


def test_a_few_worn_out_units_do_not_earn_it_however_alike():
    few = [life(1, 10_000.0 + hours, "failure", at=hours + 0.1) for hours in range(4)]
    choice = choose(pool(1, positions=[position(1)], lives=few), PRIOR)
    assert choice.model == "gamma_poisson"
    assert any("4 units are known to have worn out: too few" in reason for reason in choice.reasons)


def test_units_worn_to_their_limit_are_ends_that_were_seen():
    assert choose(worn_pool(ended_by="limit_reached"), PRIOR).evidence["fit"]["failures"] == 24


def test_units_renewed_by_plan_are_lives_that_went_on():
    choice = choose(worn_pool(ended_by="preventive"), PRIOR)
    assert (choice.model, choice.evidence["fit"]["failures"]) == ("gamma_poisson", 0)
    assert choice.rate_per_year == pytest.approx(2 * 0.8 / 84)


def test_breakage_is_a_life_that_went_on_against_wear_and_an_event_of_its_own():
    broken = pool(1, positions=[position(1)], lives=[life(1, 5000.0, "failure", "overload")] * 8)
    assert choose(broken, PRIOR).evidence["fit"]["failures"] == 0


def by_hand(hours_ahead, ages, shape, scale, *, sudden_size, sudden_odds):
    """Renewals of each unit on a fine grid, convolved plainly, and the sudden ones beside them."""
    steps = 4000
    grid = np.linspace(0, hours_ahead, steps + 1)
    life_law = stats.weibull_min(shape, scale=scale)
    density = np.diff(life_law.cdf(grid))
    total = np.ones(1)
    for age in ages:
        first = np.diff(1 - life_law.sf(age + grid) / life_law.sf(age))
        at_least, chances = first, [1.0]
        for _ in range(12):
            chances.append(at_least.sum())
            # An end in one step and the next life in another: half a step is lost and won on the average.
            later = np.convolve(at_least, density)[: steps + 1]
            at_least = np.append(0.0, (later[:-1] + later[1:]) / 2)[:steps]
        total = np.convolve(total, -np.diff([*chances, 0.0]))
    sudden = stats.nbinom(sudden_size, 1 / (1 + sudden_odds)).pmf(np.arange(40))
    return np.convolve(total, sudden)


def test_the_law_is_that_of_the_renewals_convolved_with_what_comes_at_any_age():
    choice = choose(worn_pool(sudden=3), PRIOR)
    fit = choice.evidence["fit"]
    assert choice.evidence["sudden_pieces"] == 3
    days = 730.0
    # 3 events and a prior of 0.8 in 4 years, seen over 80 position-years; two positions over two years ahead.
    expected = by_hand(
        2 * HOURS,
        [1000.0, 9000.0],
        fit["shape"],
        fit["scale_hours"],
        sudden_size=3.8,
        sudden_odds=4 / 84,
    )
    found = choice.demand.over(days, 0.0)
    assert padded(found.pmf, 8) == pytest.approx(expected[:8], abs=2e-4)
    assert found.pmf.sum() == pytest.approx(1.0, abs=1e-8)


def test_the_law_agrees_with_a_simulation():
    choice = choose(worn_pool(sudden=3), PRIOR)
    fit, rng = choice.evidence["fit"], np.random.default_rng(20)
    runs, ahead = 40_000, 2 * HOURS
    counts = rng.poisson(rng.gamma(3.8, 1 / 84, runs) * 4)
    for age in (1000.0, 9000.0):
        reached = (age / fit["scale_hours"]) ** fit["shape"]
        clock = fit["scale_hours"] * (reached + rng.exponential(size=runs)) ** (1 / fit["shape"]) - age
        while (clock <= ahead).any():
            counts += clock <= ahead
            clock += np.where(clock <= ahead, fit["scale_hours"] * rng.weibull(fit["shape"], runs), np.inf)
    found = choice.demand.over(730.0, 0.0)
    seen = np.bincount(counts, minlength=8)[:8] / runs
    # Four standard errors of a share.
    assert padded(found.pmf, 8) == pytest.approx(seen, abs=4 * 0.5 / np.sqrt(runs))
    assert found.mean == pytest.approx(counts.mean(), abs=4 * counts.std() / np.sqrt(runs))


def test_old_units_ask_for_more_than_fresh_ones():
    old, fresh = (choose(worn_pool(ages=ages), PRIOR).demand for ages in ((9500.0, 9500.0), (10.0, 10.0)))
    assert old.over(60.0, 0.0).mean > 20 * fresh.over(60.0, 0.0).mean


def test_a_longer_time_asks_for_more_and_renewals_go_on():
    demand = choose(worn_pool(), PRIOR).demand
    means = [demand.over(365.0 * years, 0.0).mean for years in (1, 2, 20)]
    assert means == sorted(means)
    # In the long run two positions renew as often as lives last on the average, a little over nine thousand hours.
    assert means[2] == pytest.approx(2 * 20 * HOURS / 9064 + 40 * 0.8 / 84, rel=0.06)


def test_drives_that_stand_still_half_the_year_wear_half_as_fast():
    full = worn_pool(ages=(10.0, 10.0))
    half = pool(
        1,
        positions=[position(1, hours_per_year=4380), position(2, hours_per_year=4380)],
        asked=full.asked,
        lives=full.lives,
        years=40.0,
    )
    one, two = choose(full, PRIOR).demand, choose(half, PRIOR).demand
    sudden = 0.8 / 84 * 2
    assert two.over(730.0, 0.0).mean - 2 * sudden == pytest.approx(
        one.over(365.0, 0.0).mean - sudden, abs=1e-9
    )


@pytest.mark.parametrize("shape", [1.0, 4.0])
def test_planned_renewals_do_not_raise_the_rate(shape):
    with_plan, without = choose(worn_pool(shape, planned=9), PRIOR), choose(worn_pool(shape), PRIOR)
    assert with_plan.rate_per_year == without.rate_per_year


def test_events_that_wear_explains_are_not_counted_at_their_own_rate_as_well():
    assert choose(worn_pool(), PRIOR).evidence["sudden_pieces"] == 0


def test_wear_that_was_asked_for_as_planned_takes_nothing_from_sudden_events():
    seen = worn_pool(sudden=3)
    planned = [
        asking(
            (one.at - seen.record_from).days / 365,
            one.position_id,
            work_order=one.work_order,
            is_planned=True,
        )
        if one.work_order.startswith("WO")
        else one
        for one in seen.asked
    ]
    again = pool(1, positions=[position(1), position(2)], asked=planned, lives=seen.lives, years=40.0)
    assert choose(again, PRIOR).evidence["sudden_pieces"] == 3


def test_wear_that_inspections_see_coming_is_left_out_of_the_law():
    seen = worn_pool(sudden=3)
    rest = choose(seen, PRIOR, without_wear_at=frozenset({1, 2}))
    assert rest.rate_per_year == pytest.approx(2 * 3.8 / 84)
    some = choose(seen, PRIOR, without_wear_at=frozenset({1}))
    assert rest.rate_per_year < some.rate_per_year < choose(seen, PRIOR).rate_per_year


def test_wear_seen_coming_is_left_out_of_the_events_where_no_law_is_earned():
    lives = [life(1, 5000.0, "limit_reached", at=1.0, work_order="WO-1")]
    asked = [asking(1, 1, work_order="WO-1"), asking(3, 1, work_order="WO-2")]
    one = pool(1, positions=[position(1)], asked=asked, lives=lives)
    assert choose(one, PRIOR).rate_per_year == pytest.approx(2.8 / 9)
    assert choose(one, PRIOR, without_wear_at=frozenset({1})).rate_per_year == pytest.approx(1.8 / 9)


def test_two_worn_units_of_one_job_take_one_event_and_leave_the_sudden_ones():
    lives = [life(place, 5000.0, "limit_reached", at=1.0, work_order="WO-1") for place in (1, 2)]
    asked = [
        asking(1, 1, work_order="WO-1"),
        asking(1, 2, work_order="WO-1"),
        asking(3, 1, work_order="WO-2"),
    ]
    one = pool(1, positions=[position(1), position(2)], asked=asked, lives=lives)
    left = choose(one, PRIOR, without_wear_at=frozenset({1, 2})).demand
    # One event less; the jobs of the record took 1.5 pieces on the average.
    assert left.rate_per_year == pytest.approx(1.5 * 2 * 1.8 / 14)


def test_a_worn_unit_explains_what_its_own_order_asked_for_and_not_its_neighbour_in_time():
    lives = [life(1, 5000.0, "limit_reached", at=1.0, work_order="WO-1")]
    asked = [
        asking(0.5, 1, work_order="WO-1"),
        asking(1.0, 1, work_order="WO-2", quantity=2),
        asking(1.0, 1, work_order="WO-3"),
    ]
    one = pool(1, positions=[position(1)], asked=asked, lives=lives)
    left = choose(one, PRIOR, without_wear_at=frozenset({1})).demand
    # WO-2 and WO-3 are left of three jobs, which took four pieces in all.
    assert left.rate_per_year == pytest.approx(2.8 / 9 * 4 / 3)
    late = pool(1, positions=[position(1)], asked=asked[1:], lives=lives)
    assert choose(late, PRIOR, without_wear_at=frozenset({1})).rate_per_year == pytest.approx(2.8 / 9 * 3 / 2)


def test_a_part_never_asked_for_gets_an_honest_number_from_its_family():
    pools = [failing(part, count) for part, count in enumerate([0, 1, 0, 2, 5, 0, 8, 3], start=1)]
    prior = Families(plant(*pools)).prior_of(pools[0])
    choice = choose(pools[0], prior)
    assert choice.rate_per_year == pytest.approx(prior.shape / (prior.years + 5.0))
    assert 0 < choice.rate_per_year < 19 / 40
    assert "never" in choice.reasons[0]


def test_several_pieces_at_once_by_no_position_are_a_series():
    asked = [asking(month / 12 + 0.01, quantity=114) for month in (2, 9, 17, 30, 44, 58)]
    choice = choose(pool(1, asked=asked), PRIOR)
    assert (choice.model, choice.evidence["method"]) == ("intermittent", "sba")
    assert sum(choice.evidence["series"]) == 6 * 114


def test_what_has_not_been_asked_for_in_a_long_time_fades():
    asked = [asking(month / 12 + 0.01, quantity=3) for month in (1, 2, 3, 5, 7)]
    choice = choose(pool(1, asked=asked), PRIOR)
    assert (choice.model, choice.evidence["method"]) == ("intermittent", "tsb")
    assert "going out of use" in choice.reasons[-1]


def test_several_pieces_a_job_are_jobs_with_their_pieces_laid_over_them():
    asked = [
        asking(1, 1, work_order="WO-1"),
        asking(1, 2, work_order="WO-1"),
        asking(3, 2, work_order="WO-2"),
    ]
    choice = choose(pool(1, positions=[position(1), position(2)], asked=asked), PRIOR)
    assert choice.model == "gamma_poisson"
    assert choice.rate_per_year == pytest.approx(1.5 * 2 * 2.8 / 14)
    law = choice.demand.over(365.0, 0.0).pmf
    jobs = stats.nbinom(2.8, 7 / 8).pmf
    # Two pieces: one job of two, or two jobs of one each.
    assert law[:3] == pytest.approx([jobs(0), jobs(1) / 2, jobs(1) / 2 + jobs(2) / 4], abs=1e-9)


def test_jobs_and_pieces_are_compounded_as_by_enumeration():
    jobs, sizes = np.array([0.5, 0.3, 0.2]), np.array([0.1, 0.65, 0.25])
    two = np.convolve(sizes, sizes)
    expected = 0.5 * np.eye(1, 5)[0] + 0.3 * padded(sizes, 5) + 0.2 * two
    assert compound(jobs, sizes) == pytest.approx(expected, abs=1e-15)


def test_nobody_asks_and_no_position_could_is_no_demand():
    choice = choose(pool(1), PRIOR)
    assert (choice.model, choice.demand, choice.rate_per_year) == ("none", None, 0.0)


def test_planned_work_alone_is_no_demand_to_keep_stock_for():
    choice = choose(pool(1, asked=[asking(1, is_planned=True)]), PRIOR)
    assert choice.model == "none"
    assert "but for planned work" in choice.reasons[0]


def test_months_are_those_of_the_record_each_with_its_pieces():
    asked = [
        asking(0, quantity=2),
        asking(45 / 365, quantity=3),
        asking(59 / 365),
        asking(1.0, is_planned=True),
    ]
    # 2020: 1 January, 15 February and, in a leap year, 29 February.
    assert monthly(pool(1, asked=asked, years=100 / 365)) == [2, 4, 0, 0]


def test_equal_histories_give_equal_numbers_to_the_last_digit():
    first, second = (choose(worn_pool(sudden=2), PRIOR) for _ in range(2))
    assert first.rate_per_year == second.rate_per_year
    assert first.evidence == second.evidence
    assert first.demand.over(45.0, 12.0).pmf.tolist() == second.demand.over(45.0, 12.0).pmf.tolist()

"""Which model the history of a pool can carry."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from drives.demand.model_selection import monthly_pieces, select_model
from drives.demand.rate_priors import RatePrior
from drives.demand.wear_demand import wear_lives
from drives.lessons.unit_lives import take_ends_together
from drives.reliability.weibull import fit_weibull
from drives.reliability.weibull_uncertainty import likely_weibulls
from inventory.facts import fact
from inventory.stocking.lead_time_demand import compound
from tests.drives.demand.built_pools import demand_pools, event, failing, life, pool, position, rate_priors


def codes(selected):
    return [reason.code for reason in selected.reasons]


PRIOR = RatePrior(0.8, 4.0, fact("family_of_all_sprockets"), 8, fact("prior_from_family"))
HOURS = 8760.0


def lives_of(shape, scale, count=24):
    """Lives of a Weibull distribution: its quantiles, evenly."""
    shares = (np.arange(count) + 0.5) / count
    return scale * (-np.log1p(-shares)) ** (1 / shape)


def worn_pool(shape=4.0, *, ages=(1000.0, 9000.0), sudden=0, planned=0, ended_by="failure", years=40.0):
    """Two positions whose units wore out one after another, each end requested by its order, and two units that run."""
    lives, events = [], []
    for index, hours in enumerate(lives_of(shape, 10_000.0)):
        place, at = 1 + index % 2, 1.0 + index
        lives.append(life(place, float(hours), ended_by, at=at, work_order=f"WO-{index}"))
        is_planned = ended_by == "preventive"
        events.append(event(at, place, work_order=f"WO-{index}", is_planned=is_planned))
    lives += [life(1 + index, age) for index, age in enumerate(ages)]
    events += [event(26.0 + index, 1, work_order=f"S-{index}") for index in range(sudden)]
    events += [
        event(30.0 + index / 50, 2, work_order=f"P-{index}", is_planned=True) for index in range(planned)
    ]
    return pool(1, positions=[position(1), position(2)], events=events, lives=lives, years=years)


def padded(found, size):
    return np.pad(np.asarray(found), (0, max(size - len(found), 0)))[:size]


def test_events_are_counted_and_drawn_towards_the_family_by_default():
    selected = select_model(failing(1, 3, years=6.0), PRIOR)
    assert (selected.model, selected.rate_per_year) == ("gamma_poisson", pytest.approx(3.8 / 10))
    found = selected.demand.over(73.0, 0.0, 1e-12)
    # By hand: a negative binomial distribution of size 3.8 with odds 0.2 years in 10.
    expected = stats.nbinom(3.8, 10 / 10.2).pmf(np.arange(6))
    assert padded(found.pmf, 6) == pytest.approx(expected, abs=1e-10)
    assert selected.reasons[-1] == PRIOR.reason


def test_positions_of_a_pool_add_up():
    two = pool(1, positions=[position(1), position(2)], events=[event(1, 1), event(2, 2)])
    assert select_model(two, PRIOR).rate_per_year == pytest.approx(2 * 2.8 / 14)


def test_lives_without_any_sign_of_age_give_no_wear_model():
    selected = select_model(worn_pool(1.0), PRIOR)
    assert selected.model == "gamma_poisson"
    assert "no_age_effect_shown" in codes(selected)
    assert selected.evidence["fit"]["shape_interval"][0] < 1


def test_strong_wear_gives_one_and_why():
    selected = select_model(worn_pool(4.0), PRIOR)
    assert selected.model == "weibull_renewal"
    shown, fit = selected.reasons[0], selected.evidence["fit"]
    assert (shown.code, shown.values["failures"], shown.values["suspensions"]) == ("wear_shown", 24, 2)
    assert [shown.values["shape_low"], shown.values["shape_high"]] == fit["shape_interval"]
    assert selected.evidence["fit"]["shape"] == pytest.approx(4.0, rel=0.15)
    assert selected.evidence["fit"]["failures"] == 24


def test_a_few_worn_out_units_are_not_enough_however_alike():
    few = [life(1, 10_000.0 + hours, "failure", at=hours + 0.1) for hours in range(4)]
    selected = select_model(pool(1, positions=[position(1)], lives=few), PRIOR)
    assert selected.model == "gamma_poisson"
    assert fact("too_few_worn_out", failures=4) in selected.reasons


def test_units_worn_to_their_limit_are_observed_ends():
    assert select_model(worn_pool(ended_by="limit_reached"), PRIOR).evidence["fit"]["failures"] == 24


def test_units_renewed_as_planned_count_as_lives_that_go_on():
    selected = select_model(worn_pool(ended_by="preventive"), PRIOR)
    assert (selected.model, selected.evidence["fit"]["failures"]) == ("gamma_poisson", 0)
    assert selected.rate_per_year == pytest.approx(2 * 0.8 / 84)


def test_breakage_is_no_end_by_wear():
    broken = pool(1, positions=[position(1)], lives=[life(1, 5000.0, "failure", "overload")] * 8)
    assert select_model(broken, PRIOR).evidence["fit"]["failures"] == 0


def chances_seen(selected, worn, *, begin, days, runs=60_000):
    """Pieces in windows of the same length, simulated from present ages under every law of lives that the record leaves possible."""
    rng, fit = np.random.default_rng(20), fit_weibull(wear_lives(worn))
    laws = likely_weibulls(wear_lives(worn), fit)
    drawn = rng.choice(len(laws), runs, p=[law.chance for law in laws])
    shape = np.array([law.shape for law in laws])[drawn]
    scale = np.array([law.scale_hours for law in laws])[drawn]
    sudden = selected.evidence["sudden_pieces"]
    counts = rng.poisson(rng.gamma(0.8 + sudden, 1 / 84, runs)[:, None] * 2 * days / 365, (runs, len(begin)))
    after, until = np.asarray(begin) * 24, (np.asarray(begin) + days) * 24
    for age in (one.hours for one in worn.lives if one.is_running):
        clock = scale * ((age / scale) ** shape + rng.exponential(size=runs)) ** (1 / shape) - age
        while (clock <= until.max()).any():
            counts += (clock[:, None] > after) & (clock[:, None] <= until)
            clock += scale * rng.weibull(shape, runs)
    return counts


def test_the_promise_holds_for_every_lead_time_of_the_year():
    worn = worn_pool(sudden=3, ages=(1000.0, 3000.0))
    selected = select_model(worn, PRIOR)
    begin = np.arange(0, 366, 15)
    counts = chances_seen(selected, worn, begin=begin, days=63)
    promised = selected.demand.over(63.0, 0.0)
    for pieces in (0, 1):
        held = (counts <= pieces).mean(axis=0)
        # Four standard errors of a share. From present ages alone the first lead time would be promised for all of them.
        assert promised.chance_within(pieces) <= held.min() + 4 * 0.5 / np.sqrt(len(counts))
        assert promised.chance_within(pieces) == pytest.approx(held.min(), abs=0.012)
    assert (counts[:, 0] == 0).mean() > promised.chance_within(0) + 0.2


def test_it_says_for_which_lead_time_and_what_the_others_need():
    worn = worn_pool(ages=(1000.0, 3000.0))
    selected = select_model(worn, PRIOR)
    said = selected.demand.span(63.0).values
    counts = chances_seen(selected, worn, begin=[0, said["from_day"], 20 * 365], days=63).mean(axis=0)
    assert said["review_days"] == 365
    assert [said["pieces_now"], said["pieces_then"], said["pieces_in_the_long_run"]] == pytest.approx(
        counts.tolist(), abs=0.02
    )
    assert said["pieces_now"] < 0.3 * said["pieces_then"]
    later = selected.demand.long_run
    assert later.over(63.0, 0.0).mean == pytest.approx(said["pieces_in_the_long_run"], rel=1e-3)
    assert later.yearly_pieces(63.0) == pytest.approx(said["pieces_in_the_long_run"] * 365 / 63)


def test_a_lead_time_that_varies_is_mixed():
    demand = select_model(worn_pool(sudden=3), PRIOR).demand
    fixed, varying = demand.over(60.0, 0.0), demand.over(60.0, 30.0)
    assert varying.mean == pytest.approx(fixed.mean, rel=0.03)
    assert varying.variance > fixed.variance
    assert varying.pmf.sum() == pytest.approx(1.0, abs=1e-8)


def test_old_units_need_more_pieces_than_new_ones():
    old, fresh = (
        select_model(worn_pool(ages=ages), PRIOR).demand.span(60.0).values["pieces_now"]
        for ages in ((9500.0, 9500.0), (10.0, 10.0))
    )
    assert old > 20 * fresh


def test_a_position_whose_wreck_is_off_wears_out_a_new_unit_too():
    off, new = (select_model(worn_pool(ages=ages), PRIOR).demand for ages in ((1000.0,), (1000.0, 0.0)))
    assert off.over(730.0, 0.0).pmf.tolist() == new.over(730.0, 0.0).pmf.tolist()


def test_a_longer_time_needs_more_pieces_and_renewals_go_on():
    demand = select_model(worn_pool(), PRIOR).demand
    means = [demand.over(365.0 * years, 0.0).mean for years in (1, 2, 20)]
    assert means == sorted(means)
    # In the long run two positions renew as often as lives last on the average, a little over nine thousand hours.
    assert means[2] == pytest.approx(2 * 20 * HOURS / 9064 + 40 * 0.8 / 84, rel=0.06)


def test_drives_that_stand_still_half_the_year_wear_half_as_fast():
    full = worn_pool(ages=(10.0, 10.0))
    half = pool(
        1,
        positions=[position(1, hours_per_year=4380), position(2, hours_per_year=4380)],
        events=full.events,
        lives=full.lives,
        years=40.0,
    )
    one, two = select_model(full, PRIOR).demand, select_model(half, PRIOR).demand
    sudden = 0.8 / 84 * 2
    needed = [demand.span(days).values["pieces_now"] for demand, days in ((one, 365.0), (two, 730.0))]
    assert needed[1] - 2 * sudden == pytest.approx(needed[0] - sudden, abs=1e-3)


@pytest.mark.parametrize("shape", [1.0, 4.0])
def test_planned_renewals_do_not_raise_the_rate(shape):
    with_plan, without = (
        select_model(worn_pool(shape, planned=9), PRIOR),
        select_model(worn_pool(shape), PRIOR),
    )
    assert with_plan.rate_per_year == without.rate_per_year


def test_events_that_wear_explains_are_not_counted_at_their_own_rate_as_well():
    assert select_model(worn_pool(), PRIOR).evidence["sudden_pieces"] == 0


def test_wear_replaced_as_planned_takes_nothing_from_sudden_events():
    seen = worn_pool(sudden=3)
    planned = [
        event(
            (one.at - seen.record_from).days / 365,
            one.position_id,
            work_order=one.work_order,
            is_planned=True,
        )
        if one.work_order.startswith("WO")
        else one
        for one in seen.events
    ]
    again = pool(1, positions=[position(1), position(2)], events=planned, lives=seen.lives, years=40.0)
    assert select_model(again, PRIOR).evidence["sudden_pieces"] == 3


def test_wear_that_inspections_see_coming_is_left_out_of_the_model():
    seen = worn_pool(sudden=3)
    rest = select_model(seen, PRIOR, without_wear_at=frozenset({1, 2}))
    assert rest.rate_per_year == pytest.approx(2 * 3.8 / 84)
    some = select_model(seen, PRIOR, without_wear_at=frozenset({1}))
    assert rest.rate_per_year < some.rate_per_year < select_model(seen, PRIOR).rate_per_year


def test_wear_seen_coming_is_left_out_of_the_events_without_a_wear_model():
    lives = [life(1, 5000.0, "limit_reached", at=1.0, work_order="WO-1")]
    events = [event(1, 1, work_order="WO-1"), event(3, 1, work_order="WO-2")]
    one = pool(1, positions=[position(1)], events=events, lives=lives)
    assert select_model(one, PRIOR).rate_per_year == pytest.approx(2.8 / 9)
    assert select_model(one, PRIOR, without_wear_at=frozenset({1})).rate_per_year == pytest.approx(1.8 / 9)


def test_two_worn_units_of_one_job_explain_one_job():
    lives = [life(place, 5000.0, "limit_reached", at=1.0, work_order="WO-1") for place in (1, 2)]
    events = [
        event(1, 1, work_order="WO-1"),
        event(1, 2, work_order="WO-1"),
        event(3, 1, work_order="WO-2"),
    ]
    one = pool(1, positions=[position(1), position(2)], events=events, lives=lives)
    left = select_model(one, PRIOR, without_wear_at=frozenset({1, 2})).demand
    # One event less; the jobs of the record took 1.5 pieces on the average.
    assert left.yearly_pieces(0) == pytest.approx(1.5 * 2 * 1.8 / 14)


def test_a_worn_unit_explains_the_request_of_its_own_order_before_one_near_in_time():
    lives = [life(1, 5000.0, "limit_reached", at=1.0, work_order="WO-1")]
    events = [
        event(0.5, 1, work_order="WO-1"),
        event(1.0, 1, work_order="WO-2", quantity=2),
        event(1.0, 1, work_order="WO-3"),
    ]
    one = pool(1, positions=[position(1)], events=events, lives=lives)
    left = select_model(one, PRIOR, without_wear_at=frozenset({1})).demand
    # WO-2 and WO-3 are left of three jobs, which took four pieces in all.
    assert left.yearly_pieces(0) == pytest.approx(2.8 / 9 * 4 / 3)
    late = pool(1, positions=[position(1)], events=events[1:], lives=lives)
    assert select_model(late, PRIOR, without_wear_at=frozenset({1})).rate_per_year == pytest.approx(
        2.8 / 9 * 3 / 2
    )


def test_a_part_never_requested_gets_a_rate_from_its_family():
    pools = [failing(part, count) for part, count in enumerate([0, 1, 0, 2, 5, 0, 8, 3], start=1)]
    prior = rate_priors(demand_pools(*pools)).prior_of(pools[0])
    selected = select_model(pools[0], prior)
    assert selected.rate_per_year == pytest.approx(prior.shape / (prior.years + 5.0))
    assert 0 < selected.rate_per_year < 19 / 40
    assert selected.reasons[0] == fact("requests_of_positions", requests=0, positions=1, position_years=5.0)


def test_several_pieces_at_once_without_a_position_give_monthly_demand():
    events = [event(month / 12 + 0.01, quantity=114) for month in (2, 9, 17, 30, 44, 58)]
    selected = select_model(pool(1, events=events), PRIOR)
    assert (selected.model, selected.evidence["method"]) == ("intermittent", "sba")
    assert sum(selected.evidence["series"]) == 6 * 114


def test_a_steady_monthly_demand_by_hand():
    """Twelve pieces each half year are two a month; SBA with 0.1 takes a twentieth off: Syntetos and Boylan 2005."""
    events = [event((month + 0.5) / 12, quantity=12) for month in range(5, 60, 6)]
    selected = select_model(pool(1, events=events), PRIOR)
    assert selected.evidence["method"] == "sba"
    assert selected.rate_per_year == pytest.approx(12 * 2 * 0.95)


def test_monthly_demand_says_why_it_is_used():
    months = [event(month / 12 + 0.01, quantity=3) for month in (2, 9, 17, 30)]
    assert codes(select_model(pool(1, events=months), PRIOR)) == [
        "monthly_demand_several_pieces",
        "spread_negative_binomial",
    ]
    single = [event(month / 12 + 0.01) for month in (2, 9, 17, 30)]
    (why,) = select_model(pool(1, events=single), PRIOR).reasons
    assert why == fact("monthly_demand_without_position", requests=4, record_years=5.0, months=4)


def test_ends_without_a_mechanism_are_named():
    unnamed = take_ends_together(worn_pool().lives)
    assert not any(life.counts_as_wear for life in unnamed)
    lives = take_ends_together(tuple(replace(life, mechanism="") for life in worn_pool().lives))
    selected = select_model(replace(worn_pool(), lives=lives), PRIOR)
    assert codes(selected)[0] == "no_mechanism_recorded"


def test_demand_long_ago_fades():
    events = [event(month / 12 + 0.01, quantity=3) for month in (1, 2, 3, 5, 7)]
    selected = select_model(pool(1, events=events), PRIOR)
    assert (selected.model, selected.evidence["method"]) == ("intermittent", "tsb")
    assert selected.reasons[-1] == fact("demand_fading")


def test_several_pieces_a_job_are_jobs_with_the_pieces_of_each():
    events = [
        event(1, 1, work_order="WO-1"),
        event(1, 2, work_order="WO-1"),
        event(3, 2, work_order="WO-2"),
    ]
    selected = select_model(pool(1, positions=[position(1), position(2)], events=events), PRIOR)
    assert fact("pieces_per_job", least=1, most=2) in selected.reasons
    assert selected.model == "gamma_poisson"
    assert selected.rate_per_year == pytest.approx(1.5 * 2 * 2.8 / 14)
    found = selected.demand.over(365.0, 0.0).pmf
    jobs = stats.nbinom(2.8, 7 / 8).pmf
    # Two pieces: one job of two, or two jobs of one each. One job of each size leaves their shares open: Dirichlet(1, 1).
    assert found[:3] == pytest.approx([jobs(0), jobs(1) / 2, jobs(1) / 2 + jobs(2) / 3], abs=1e-9)


def test_jobs_and_pieces_are_compounded_as_by_enumeration():
    jobs, sizes = np.array([0.5, 0.3, 0.2]), np.array([0.1, 0.65, 0.25])
    two = np.convolve(sizes, sizes)
    expected = 0.5 * np.eye(1, 5)[0] + 0.3 * padded(sizes, 5) + 0.2 * two
    assert compound(jobs, sizes) == pytest.approx(expected, abs=1e-15)


def test_without_requests_and_positions_there_is_no_demand():
    selected = select_model(pool(1), PRIOR)
    assert codes(selected) == ["no_demand_on_record"]
    assert (selected.model, selected.demand, selected.rate_per_year) == ("none", None, 0.0)


def test_planned_work_alone_is_no_demand_to_keep_stock_for():
    selected = select_model(pool(1, events=[event(1, is_planned=True)]), PRIOR)
    assert selected.model == "none"
    assert codes(selected) == ["only_planned_demand"]


def test_months_are_those_of_the_record_each_with_its_pieces():
    events = [
        event(0, quantity=2),
        event(45 / 365, quantity=3),
        event(59 / 365),
        event(1.0, is_planned=True),
    ]
    # 2020: 1 January, 15 February and, in a leap year, 29 February.
    assert monthly_pieces(pool(1, events=events, years=100 / 365)) == [2, 4, 0, 0]


def test_equal_histories_give_equal_numbers_to_the_last_digit():
    first, second = (select_model(worn_pool(sudden=2), PRIOR) for _ in range(2))
    assert first.rate_per_year == second.rate_per_year
    assert first.evidence == second.evidence
    assert first.demand.over(45.0, 12.0).pmf.tolist() == second.demand.over(45.0, 12.0).pmf.tolist()


def test_chain_is_modelled_in_jobs_and_not_in_links():
    """Twelve jobs of 82 to 112 links in five years, one of them in two entries: a law of 0, 1, 2 jobs."""
    lengths = [82, 96, 112, 84, 90, 82, 96, 112, 84, 90, 82]
    events = [event(0.3 + 0.4 * n, quantity=links, work_order=f"WO-{n}") for n, links in enumerate(lengths)]
    parts = [event(4.9, quantity=links, work_order="WO-99") for links in (60, 40)]
    chain = replace(pool(events=[*events, *parts], years=5.0), is_chain=True)
    found = select_model(chain, PRIOR)
    jobs = pool(events=[replace(one, quantity=1) for one in [*events, parts[0]]], years=5.0)
    alike = select_model(jobs, PRIOR)
    assert (found.model, found.rate_per_year) == (alike.model, alike.rate_per_year)
    assert found.evidence["series"] == alike.evidence["series"]
    assert sum(found.evidence["series"]) == 12
    assert found.demand.over(45.0, 0.0, 1e-12).pmf[1] > 0.05
    counted = found.reasons[-1]
    assert counted.code == "chain_counted_in_jobs"
    assert counted.values["links_per_job"] == 112
    assert (counted.values["shortest_links"], counted.values["longest_links"], counted.values["jobs"]) == (
        82,
        112,
        12,
    )
    assert chain.chain_jobs.mean_links == pytest.approx((sum(lengths) + 100) / 12)


def test_planned_jobs_for_chain_are_no_demand_for_stock_and_their_lengths_count():
    events = [event(1.0 + n, quantity=82, work_order=f"WO-{n}") for n in range(2)]
    planned = event(3.5, quantity=112, work_order="WO-9", is_planned=True)
    chain = replace(pool(events=[*events, planned], years=5.0), is_chain=True)
    assert select_model(chain, PRIOR).model == "gamma_poisson"
    assert chain.chain_jobs.longest_links == 112
    assert [one.quantity for one in chain.in_jobs().unplanned] == [1, 1]

"""What pools of one family say about each other's rates."""

import numpy as np
import pytest
from scipy import optimize, stats

from inventory.facts import fact
from inventory.stocking.demand_settings import SHIPPED
from tests.drives.demand.built_pools import demand_pools, event, failing, pool, position, rate_priors

OF_PITCH = fact("family_of_pitch", role="driver", pitch_mm=12.7, surroundings="ordinary")
# Alike in kind, but different: more scatter than chance, and no single one stands out.
COUNTS = [0, 0, 1, 1, 2, 3, 4, 6, 8, 10, 0, 5]
YEARS = [5.0, 4.0, 5.0, 6.0, 5.0, 5.5, 5.0, 4.5, 5.0, 6.0, 6.5, 5.0]


def family(counts=COUNTS, years=YEARS, **drive):
    return [
        failing(part, count, years=run, **drive)
        for part, (count, run) in enumerate(zip(counts, years, strict=True), start=1)
    ]


def prior(pools, index=0):
    return rate_priors(demand_pools(*pools)).prior_of(pools[index])


def test_the_prior_is_the_likeliest_of_the_negative_binomial_law():
    def minus(point):
        alpha, beta = np.exp(point)
        return -stats.nbinom(alpha, beta / (beta + np.array(YEARS))).logpmf(COUNTS).sum()

    search = optimize.minimize(minus, [0, 0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    found = prior(family())
    assert (found.shape, found.years) == pytest.approx(tuple(np.exp(search.x)), rel=1e-5)
    assert (found.pools, found.family) == (12, OF_PITCH)


def test_every_pool_of_the_family_gets_the_same_prior_and_reason():
    pools = family()
    (found,) = {prior(pools, index) for index in range(12)}
    worth = {"events": found.shape, "years": found.years}
    assert found.reason == fact("prior_from_family", pools=12, family=OF_PITCH, **worth)


def test_planned_renewals_do_not_count():
    counts = pool(1, positions=[position(1)], events=[event(1, 1, is_planned=True), event(2, 1)])
    assert counts.unplanned_pieces == 1


def test_an_unlike_pool_stops_the_pooling_and_is_named():
    pools = family([1, 0, 2, 1, 1, 0, 2, 1, 1, 0, 1, 90], [5.0] * 12)
    found = prior(pools)
    assert (found.family, found.shape) == (None, 0.5)
    assert found.reason.code == "prior_half_event_at_mean_rate"
    why = found.reason.values["why"]
    assert (why.code, why.values["family"]) == ("family_not_alike", OF_PITCH)
    caution = why.values["caution"]
    assert (caution.code, caution.values["group"]) == ("group_unlike_others", "SPR-012")
    # Half an event at the mean rate of the plant: 100 events in 60 years.
    assert found.years == pytest.approx(0.5 * 60 / 100)


def test_a_part_requested_twice_beside_shelves_of_dead_stock_is_not_diluted_by_them():
    """Two requests in 1.16 years are about two a year, whatever lies beside them for ten years."""
    dead = [pool(part, years=10.0) for part in range(2, 60)]
    wanted = pool(1, events=[event(0.3), event(0.9)], years=1.16)
    found = prior([wanted, *dead])
    assert (found.shape, found.years) == (0.5, 0.001)
    assert found.reason.code == "prior_half_event_alone"
    # After none in 580 years, two or more in 1.16; doubled, as the test has two sides.
    assert found.reason.values["p_value"] == pytest.approx(
        2 * stats.nbinom(0.5, 580 / 581.16).sf(1), rel=1e-6
    )
    # The others keep the mean rate: two requests in all their years.
    assert prior([wanted, *dead], 5).years == pytest.approx(0.5 * (1.16 + 58 * 10) / 2)


def test_a_part_that_is_requested_less_than_its_family_still_leans_on_it():
    pools = family([40] * 11 + [0], [5.0] * 12)
    assert prior(pools, 11).reason.code != "prior_half_event_alone"


def test_without_the_unlike_pool_the_rest_are_pooled():
    assert prior(family([1, 0, 2, 1, 1, 0, 2, 1, 1, 0, 1], [5.0] * 11)).family == OF_PITCH


def test_too_few_pools_of_a_pitch_take_in_other_pitches_of_the_same_surroundings():
    counts, years = COUNTS[: SHIPPED.fewest_pools - 1], YEARS[: SHIPPED.fewest_pools - 1]
    few = family(counts, years)
    others = [failing(100 + one, count, pitch_mm=None) for one, count in enumerate(COUNTS)]
    assert prior(few + others).family == fact(
        "family_of_surroundings", role="driver", surroundings="ordinary"
    )


def test_too_few_in_such_surroundings_take_in_all_of_the_role_and_then_all_sprockets():
    harsh = family(COUNTS[:3], YEARS[:3], environment=["washdown"])
    ordinary = [failing(100 + one, count) for one, count in enumerate(COUNTS)]
    assert prior(harsh + ordinary).family == fact("family_of_role", role="driver")
    driven = [failing(100 + one, count, role="driven") for one, count in enumerate(COUNTS)]
    assert prior(harsh + driven).family == fact("family_of_all_sprockets")


def test_surroundings_that_wear_are_kept_apart_from_dry_ones():
    pools = family(environment=["abrasive"])
    ordinary = [failing(100 + one, 0) for one in range(12)]
    assert prior(pools + ordinary).family.values["surroundings"] == "harsh"


def test_pools_that_differ_no_more_than_by_chance_share_the_rate_of_the_others():
    pools = family([1] * 8, [5.0] * 8)
    found = prior(pools)
    assert (found.shape, found.years) == (7.0, 35.0)
    assert found.reason == fact("prior_from_common_rate", pools=8, family=OF_PITCH, rate_per_year=0.2)


def test_the_only_pool_with_demand_gets_the_years_of_the_others():
    found = prior(family([1] + [0] * 7, [5.0] * 8))
    assert (found.shape, found.years) == (0.5, 35.0)


def test_too_few_pools_in_all_get_half_an_event_at_the_mean_rate():
    found = prior(family([2, 0, 1], [5.0] * 3))
    assert (found.shape, found.years, found.family) == (0.5, 2.5, None)
    why = fact("family_too_small_or_without_demand", pools=3)
    assert found.reason == fact("prior_half_event_at_mean_rate", events=0.5, why=why)


def test_where_nothing_ever_failed_a_weak_prior_is_stated():
    found = prior(family([0] * 8, [5.0] * 8))
    assert (found.shape, found.years, found.family) == (0.5, 35.0, None)
    why = fact("family_too_small_or_without_demand", pools=8)
    assert found.reason == fact("prior_half_event_in_years_of_others", events=0.5, why=why, years=35.0)


def test_a_part_alone_of_its_kind_without_any_failure_has_its_own_years_and_half_an_event():
    found = prior(family([0], [5.0]))
    assert (found.shape, found.years) == (0.5, pytest.approx(0.001))


def test_a_first_failure_elsewhere_never_lowers_the_rate_of_a_part_without_any():
    def rate(pools):
        found = prior(pools, -1)
        return found.shape / (found.years + pools[-1].exposure_years)

    for count in (3, 8):
        assert rate(family([1] + [0] * (count - 1), [5.0] * count)) >= rate(
            family([0] * count, [5.0] * count)
        )


def test_parts_that_no_position_needs_are_grouped_by_kind_and_counted_over_the_record():
    bushes = [pool(part, events=[event(1, None, part)] * count) for part, count in enumerate(COUNTS, start=1)]
    sprockets = [failing(100 + one, 0) for one in range(12)]
    found = prior(bushes + sprockets)
    assert found.family == fact("family_without_position", kind="bush")
    assert bushes[0].exposure_years == 5.0


def test_exposure_is_that_of_all_positions_of_the_part():
    assert pool(1, positions=[position(1), position(2)], years=4.0).exposure_years == 8.0


def test_lines_of_one_job_are_one_event_however_many_pieces_they_request():
    lines = [
        event(1, 1, work_order="WO-1"),
        event(1.1, 2, work_order="WO-1", quantity=2),
        event(2, 1),
        event(3, 1, work_order="WO-1", is_planned=True),
    ]
    found = pool(1, positions=[position(1), position(2)], events=lines)
    assert sorted(found.pieces_of_jobs) == [1, 3]
    assert found.unplanned_pieces == 4

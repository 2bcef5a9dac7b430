"""Substitutes for a part, and their worth against plain enumeration."""

from itertools import product
from math import prod

import pytest

from drives.demand.cover import CoverEdge
from drives.demand.model_selection import select_model
from drives.demand.plant_estimates import PlantEstimates
from drives.demand.record_start import RecordStarts
from drives.demand.snapshot import DemandSnapshot
from drives.demand.substitute_cover import substitute_cover
from inventory.facts import fact
from inventory.planning.terms import Terms
from inventory.stocking.demand_settings import SHIPPED
from inventory.stores.lead_times import LeadTimes
from tests.drives.demand.built_pools import demand_pools, event, pool, position, rate_priors, years_on


def requests(pk, times):
    return [event(0.01 + index / 30, pk, work_order=f"WO-{pk}-{index}") for index in range(times)]


def own(part, *position_ids, times=20):
    return pool(
        part,
        positions=[position(pk) for pk in position_ids],
        events=[one for pk in position_ids for one in requests(pk, times)],
    )


EMPTY = own(1, 1, 2)
KEPT = own(9, 3, times=30)


def snapshot(*pools, edges, levels, lead_days=73):
    made = demand_pools(*pools, edges=edges)
    priors = rate_priors(made)
    selected = tuple((one, select_model(one, priors.prior_of(one))) for one in pools)
    return DemandSnapshot(
        estimates=PlantEstimates(years_on(5.0), priors.families, RecordStarts(years_on(5.0)), ""),
        demand=made,
        priors=priors,
        by_storeroom=selected,
        selected=selected,
        notices={},
        lead_times=LeadTimes({1: lead_days} if lead_days else {}),
        terms=Terms(),
        kept=frozenset((item, 1) for item, most in levels.items() if most),
        levels={(item, 1): most for item, most in levels.items()},
    )


def covers(*pools, edges, levels, **more):
    return substitute_cover(snapshot(*pools, edges=edges, levels=levels, **more), pools[0], pools[0].part)


def by_enumeration(seen, own_positions, covered, pieces, days):
    """Each combination of demands: pieces that its own positions leave over go to the others."""
    demands = [seen.position_demands[pk].over(days).pmf for pk in (*own_positions, *covered)]
    averted = 0.0
    for pieces_needed in product(*(range(len(demand)) for demand in demands)):
        left = max(pieces - sum(pieces_needed[: len(own_positions)]), 0)
        chance = prod(demand[count] for demand, count in zip(demands, pieces_needed, strict=True))
        averted += chance * min(left, sum(pieces_needed[len(own_positions) :]))
    return averted


@pytest.mark.parametrize("pieces", [1, 2, 5])
@pytest.mark.parametrize("covered", [(1,), (1, 2)])
def test_its_worth_is_that_of_the_pieces_its_own_positions_leave_over(pieces, covered):
    edges = [CoverEdge(pk, 9, "with_work", 30) for pk in covered] + [CoverEdge(3, 9, "drop_in", 0)]
    seen = snapshot(EMPTY, KEPT, edges=edges, levels={9: pieces})
    (found,) = substitute_cover(seen, EMPTY, 1)
    assert found.averts == pytest.approx(by_enumeration(seen, (3,), covered, pieces, 73), abs=1e-6)
    assert (found.item, found.positions, found.pieces) == ("SPR-009", len(covered), pieces)


def test_a_piece_that_its_own_positions_need_averts_less():
    edges = [CoverEdge(1, 9, "drop_in", 0)]
    (busy,) = covers(EMPTY, KEPT, edges=edges, levels={9: 1})
    (idle,) = covers(EMPTY, own(9, 3, times=0), edges=edges, levels={9: 1})
    assert idle.averts > 2 * busy.averts > 0


def test_without_a_lead_time_it_is_valued_over_a_default():
    edges = [CoverEdge(1, 9, "drop_in", 0)]
    seen = snapshot(EMPTY, KEPT, edges=edges, levels={9: 2}, lead_days=None)
    (found,) = substitute_cover(seen, EMPTY, 1)
    assert found.averts == pytest.approx(
        by_enumeration(seen, (3,), (1,), 2, SHIPPED.substitute_days), abs=1e-6
    )


def test_an_item_that_is_not_kept_is_no_substitute():
    assert covers(EMPTY, KEPT, edges=[CoverEdge(1, 9, "drop_in", 0)], levels={9: 0}) == ()


def test_an_item_of_the_same_part_is_no_substitute():
    twins = pool(1, positions=[position(1)], events=requests(1, 5), members=(1, 5))
    assert covers(twins, edges=[CoverEdge(1, 5, "drop_in", 0)], levels={5: 2}) == ()


def test_the_worst_grade_and_its_minutes_are_given():
    edges = [CoverEdge(1, 9, "drop_in", 0), CoverEdge(2, 9, "with_work", 35, "estimate")]
    (found,) = covers(EMPTY, KEPT, edges=edges, levels={9: 2})
    assert (found.grade, found.work_minutes, found.work_basis) == ("with_work", 35, "estimate")
    assert found.reason == fact(
        "substitute_after_work",
        item="SPR-009",
        positions=2,
        grade="with_work",
        work_minutes=35,
        work_basis="estimate",
        pieces=2,
        averted_pieces=found.averts,
    )


def test_without_work_its_reason_names_none():
    (found,) = covers(EMPTY, KEPT, edges=[CoverEdge(1, 9, "drop_in", 0)], levels={9: 2})
    assert found.reason.code == "substitute_available"
    assert "work_minutes" not in found.reason.values


def test_the_better_grade_comes_first_and_then_the_greater_worth():
    pools = (EMPTY, own(7, 3, times=0), own(8, 4, times=0), own(9, 5, times=30))
    edges = [CoverEdge(1, 7, "with_work", 30), CoverEdge(1, 9, "drop_in", 0), CoverEdge(1, 8, "drop_in", 0)]
    found = covers(*pools, edges=edges, levels={7: 3, 8: 3, 9: 3})
    assert [one.item for one in found] == ["SPR-008", "SPR-009", "SPR-007"]


def test_no_more_than_five_are_named():
    pools = (EMPTY, *(own(part, part, times=0) for part in range(10, 17)))
    edges = [CoverEdge(1, part, "drop_in", 0) for part in range(10, 17)]
    assert len(covers(*pools, edges=edges, levels=dict.fromkeys(range(10, 17), 1))) == 5

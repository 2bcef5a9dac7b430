"""What stands in for a part; its worth against plain enumeration."""

from itertools import product
from math import prod

import pytest

from drives.demand.cover import Edge
from drives.demand.families import Families
from drives.demand.model_selection import choose
from drives.demand.needs import Survey
from drives.demand.substitute_cover import USUAL_WAIT_DAYS, second_line
from inventory.planning.terms import Terms
from inventory.stores.lead_times import LeadTimes
from tests.drives.demand.made import asking, plant, pool, position


def asked_often(pk, times):
    return [asking(0.01 + index / 30, pk, work_order=f"WO-{pk}-{index}") for index in range(times)]


def own(part, *places, times=20):
    return pool(
        part,
        positions=[position(pk) for pk in places],
        asked=[one for pk in places for one in asked_often(pk, times)],
    )


EMPTY = own(1, 1, 2)
KEPT = own(9, 3, times=30)


def survey(*pools, edges, levels, lead_days=73):
    made = plant(*pools, edges=edges)
    families = Families(made)
    return Survey(
        plant=made,
        chosen=tuple((one, choose(one, families.prior_of(one))) for one in pools),
        families=families,
        notices={},
        lead_times=LeadTimes({1: lead_days} if lead_days else {}),
        terms=Terms(),
        kept=frozenset((item, 1) for item, most in levels.items() if most),
        levels={(item, 1): most for item, most in levels.items()},
    )


def lines(*pools, edges, levels, **more):
    return second_line(survey(*pools, edges=edges, levels=levels, **more), pools[0], pools[0].part)


def by_enumeration(seen, own_places, covered, pieces, days):
    """Each combination of what every place asks for: pieces that its own places leave over go to the others."""
    laws = [seen.asks[pk].over(days).pmf for pk in (*own_places, *covered)]
    averted = 0.0
    for asked in product(*(range(len(law)) for law in laws)):
        left = max(pieces - sum(asked[: len(own_places)]), 0)
        chance = prod(law[count] for law, count in zip(laws, asked, strict=True))
        averted += chance * min(left, sum(asked[len(own_places) :]))
    return averted


@pytest.mark.parametrize("pieces", [1, 2, 5])
@pytest.mark.parametrize("covered", [(1,), (1, 2)])
def test_its_worth_is_that_of_the_pieces_its_own_places_leave_over(pieces, covered):
    edges = [Edge(pk, 9, "with_work", 30) for pk in covered] + [Edge(3, 9, "drop_in", 0)]
    seen = survey(EMPTY, KEPT, edges=edges, levels={9: pieces})
    (line,) = second_line(seen, EMPTY, 1)
    assert line.averts == pytest.approx(by_enumeration(seen, (3,), covered, pieces, 73), abs=1e-6)
    assert (line.item, line.positions, line.pieces) == ("SPR-009", len(covered), pieces)


def test_a_piece_that_its_own_places_need_averts_less():
    edges = [Edge(1, 9, "drop_in", 0)]
    (busy,) = lines(EMPTY, KEPT, edges=edges, levels={9: 1})
    (idle,) = lines(EMPTY, own(9, 3, times=0), edges=edges, levels={9: 1})
    assert idle.averts > 2 * busy.averts > 0


def test_without_a_lead_time_it_is_valued_over_the_usual_wait():
    edges = [Edge(1, 9, "drop_in", 0)]
    seen = survey(EMPTY, KEPT, edges=edges, levels={9: 2}, lead_days=None)
    (line,) = second_line(seen, EMPTY, 1)
    assert line.averts == pytest.approx(by_enumeration(seen, (3,), (1,), 2, USUAL_WAIT_DAYS), abs=1e-6)


def test_what_nobody_keeps_is_no_second_line():
    assert lines(EMPTY, KEPT, edges=[Edge(1, 9, "drop_in", 0)], levels={9: 0}) == ()


def test_an_equal_number_is_the_part_itself_and_no_second_line():
    twins = pool(1, positions=[position(1)], asked=asked_often(1, 5), members=(1, 5))
    assert lines(twins, edges=[Edge(1, 5, "drop_in", 0)], levels={5: 2}) == ()


def test_the_worst_grade_and_its_minutes_are_told():
    edges = [Edge(1, 9, "drop_in", 0), Edge(2, 9, "with_work", 35)]
    (line,) = lines(EMPTY, KEPT, edges=edges, levels={9: 2})
    assert (line.grade, line.work_minutes) == ("with_work", 35)
    assert line.sentence.startswith(
        "SPR-009 can stand in at 2 positions after 35 minutes of work (with work)"
    )
    assert line.sentence.endswith("It is not counted in the levels.")


def test_the_better_grade_comes_first_and_then_the_greater_worth():
    pools = (EMPTY, own(7, 3, times=0), own(8, 4, times=0), own(9, 5, times=30))
    edges = [Edge(1, 7, "with_work", 30), Edge(1, 9, "drop_in", 0), Edge(1, 8, "drop_in", 0)]
    found = lines(*pools, edges=edges, levels={7: 3, 8: 3, 9: 3})
    assert [line.item for line in found] == ["SPR-008", "SPR-009", "SPR-007"]


def test_no_more_than_five_are_named():
    pools = (EMPTY, *(own(part, part, times=0) for part in range(10, 17)))
    edges = [Edge(1, part, "drop_in", 0) for part in range(10, 17)]
    assert len(lines(*pools, edges=edges, levels=dict.fromkeys(range(10, 17), 1))) == 5

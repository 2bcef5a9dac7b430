"""Chain is planned in jobs: as a part whose piece is a whole chain, with stock that whole jobs can be cut from."""

from dataclasses import asdict
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from inventory.models import Item, StockPolicy, Storeroom
from inventory.planning.budget_frontier import frontier
from inventory.planning.chain_jobs import ChainJobs, chain_jobs
from inventory.planning.policy_inputs import ItemDetails, PolicyLevels
from inventory.planning.reorder_list import ReorderLine, reorder_lines
from inventory.stores import ledger
from tests import factories as make
from tests.inventory.planning.cases import LeadTimesByItem, advice, downtime, lead_time, need, reason, targets
from tests.inventory.planning.worlds import AS_OF, need_of, run_over

TODAY = date(2026, 3, 2)
SHORT = (78, 60, 66, 68, 54, 60, 54, 78, 54, 68, 60, 52, 78, 68, 54, 60, 68, 54, 68)
JOBS = ChainJobs(links_per_job=112, shortest_links=82, longest_links=112, mean_links=97.0, jobs=8)
LINK = ItemDetails(stock_number="CHN-1", unit_cost=Decimal("0.35"))
STRAND = ItemDetails(stock_number="CHN-1", unit_cost=Decimal("39.20"))


def test_stock_is_counted_in_the_length_that_nine_jobs_in_ten_need() -> None:
    found = chain_jobs([*[82] * 4, *[96] * 4, 112, 390])
    assert found is not None
    assert asdict(found) == {
        "links_per_job": 112,
        "shortest_links": 82,
        "longest_links": 390,
        "mean_links": pytest.approx(121.4),
        "jobs": 10,
    }
    assert chain_jobs([]) is None
    assert chain_jobs([82, 112]) == ChainJobs(
        links_per_job=112, shortest_links=82, longest_links=112, mean_links=97.0, jobs=2
    )


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"targets": targets(kind="cost"), "emergency_hours": 24},
        {"targets": targets(kind="cycle_service_level", value=0.99)},
        {"today": PolicyLevels(True, 112, 336)},
    ],
)
def test_it_is_planned_as_a_part_whose_piece_is_a_whole_chain(more: dict[str, Any]) -> None:
    strands = dict(more)
    if "today" in more:
        strands["today"] = PolicyLevels(True, 1, 3)
    chain = advice(need(rate=3.0, chain=JOBS, downtime=downtime()), item=LINK, **more)
    whole = advice(need(rate=3.0, downtime=downtime()), item=STRAND, **strands)
    assert whole.levels.stocked
    assert chain.levels == PolicyLevels(True, whole.reorder_point * 112, whole.order_up_to * 112)
    assert (chain.fill_rate, chain.holding_cost_per_year) == (whole.fill_rate, whole.holding_cost_per_year)
    assert chain.expected_stockouts_per_year == pytest.approx(whole.expected_stockouts_per_year * 112)
    assert chain.evidence["lead_time_law"] == whole.evidence["lead_time_law"]
    assert chain.changed == whole.changed
    assert chain.rate_per_year == pytest.approx(3 * 97)


def test_levels_that_are_no_whole_jobs_count_for_the_jobs_that_they_are_enough_for() -> None:
    assert PolicyLevels(True, 150, 300).in_jobs(112) == PolicyLevels(True, 1, 2)
    assert PolicyLevels(True, 0, 100).in_jobs(112) == PolicyLevels(True, 0, 1)
    assert PolicyLevels(False, -1, 0).in_jobs(112) == PolicyLevels(False, -1, 0)
    found = advice(need(chain=JOBS), item=LINK, today=PolicyLevels(True, 150, 300))
    assert found.today["reorder_point"] == 150
    assert found.changed


def test_an_insured_chain_is_one_whole_chain() -> None:
    insured = ItemDetails(stock_number="CHN-1", unit_cost=Decimal("0.35"), holding_reason="insurance")
    found = advice(need(rate=1e-6, chain=JOBS, downtime=downtime()), item=insured, emergency_hours=1)
    assert found.levels == PolicyLevels(True, 0, 112)


def test_what_is_ordered_together_is_said_in_links() -> None:
    found = advice(need(chain=JOBS), item=LINK)
    assert reason(found, "ordered_by_the_job").values["quantity"] == 112


@pytest.fixture
def room(db: None) -> Storeroom:
    return make.StoreroomFactory()


def kept_chain(
    room: Storeroom, *pieces: int, jobs: ChainJobs = JOBS, levels: tuple[int, int] = (112, 336)
) -> Item:
    item = make.ChainItemFactory(stock_number="CHN-1")
    if pieces:
        make.stock(item, room, sum(pieces), pieces=list(pieces))
    run_over([need_of(item, room, chain=jobs)])
    point, up_to = levels
    StockPolicy.objects.create(item=item, storeroom=room, reorder_point=point, order_up_to=up_to)
    return item


def the_line() -> ReorderLine:
    (line,) = list(reorder_lines(today=TODAY))
    return line


def notes(line: ReorderLine) -> dict[str, dict[str, Any]]:
    return {note.code: dict(note.values) for note in line.notes}


def test_short_pieces_are_no_stock_and_are_named(room: Storeroom) -> None:
    kept_chain(room, *SHORT)
    line = the_line()
    assert (line.stock.on_hand, line.stock.serves_no_job, line.stock.inventory_position) == (1202, 1202, 0)
    assert (line.quantity, line.links_per_job) == (336, 112)
    assert notes(line)["chain_pieces_serve_jobs"] == {
        "links": 1202,
        "pieces": 19,
        "jobs": 0,
        "links_per_job": 112,
    }
    assert notes(line)["chain_remnants"] == {
        "pieces": 19,
        "links": 1202,
        "longest_links": 78,
        "shortest_job_links": 82,
    }


def test_whole_chains_are_stock_and_what_is_left_of_a_piece_is_not(room: Storeroom) -> None:
    kept_chain(room, 240, 100)
    line = list(reorder_lines(today=TODAY))
    assert line == [], "two jobs are above one"
    StockPolicy.objects.update(reorder_point=224)
    found = the_line()
    assert (found.stock.inventory_position, found.quantity) == (224, 112)
    assert "chain_remnants" not in notes(found), "100 links are enough for the shortest job"


def test_two_short_pieces_are_a_chain_where_the_plant_allows_a_joint(room: Storeroom) -> None:
    jobs = ChainJobs(links_per_job=164, shortest_links=164, longest_links=164, mean_links=164.0, jobs=3)
    kept_chain(room, 90, 90, jobs=jobs, levels=(0, 164))
    assert the_line().quantity == 164
    make.StockingTermsFactory(chain_joints=1)
    assert list(reorder_lines(today=TODAY)) == []


def test_what_is_reserved_is_cut_before_jobs_are_counted(room: Storeroom) -> None:
    item = kept_chain(room, 120, 118, levels=(112, 224))
    assert list(reorder_lines(today=TODAY)) == []
    ledger.reserve(item, room, 30, work_order="WO-1", by="Marta Keller")
    line = the_line()
    assert line.stock.inventory_position == 112
    assert line.quantity == 112


def test_links_on_order_count_in_whole_jobs(room: Storeroom) -> None:
    item = kept_chain(room, levels=(112, 336))
    make.SupplyOrderFactory(item=item, storeroom=room, quantity=200, promised_on=TODAY)
    line = the_line()
    assert (line.stock.on_order, line.stock.inventory_position, line.quantity) == (200, 112, 224)


def test_a_budget_buys_whole_chains_and_does_not_count_remnants(room: Storeroom) -> None:
    make.StockingTermsFactory(hours_to_expedite=24)
    item = make.ChainItemFactory(stock_number="CHN-1")
    make.stock(item, room, 150, pieces=[75, 75])
    one = need_of(item, room, rate=4.0, chain=JOBS, downtime=downtime("420"))
    times = LeadTimesByItem({item.pk: lead_time()})
    found = frontier([one], lead_times=times, emergencies=None, budget=Decimal(1000), today=AS_OF.date())
    assert (found.today.spend, found.today.downtime_hours_per_year) == (0, pytest.approx(4 * 24))
    assert "short_chain_not_counted" in [one.code for one in found.method]
    value = found.stock_value
    assert (value.on_shelves, value.weighed, value.left_out) == (Decimal("52.50"), 0, Decimal("52.50"))
    first = found.buys[0]
    assert (first.pieces, first.stock_after, first.spend) == (112, 112, Decimal("39.20"))
    assert first.unit_cost == Decimal("0.35")

"""Each figure against rows put down by hand."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from drives.figures.deliveries import emergency_buys, late_orders
from drives.figures.figure import CurrencyValue
from drives.figures.shelves import dead_stock, excess, excess_on_shelf, insurance
from drives.figures.stockouts import stockout_figures
from drives.models import CoverState
from inventory.models.access_scope import AccessScope, scoped_to
from inventory.planning.chain_jobs import ChainJobs
from inventory.planning.policy_inputs import NearStoreroom
from tests import factories as make
from tests.drives.demand.demand_records import day, issue, main_room, put_in_stock, request, sprocket
from tests.inventory.planning.worlds import need_of, run_over

pytestmark = pytest.mark.django_db
TODAY = day(400).date()


@pytest.fixture
def part(db):
    found = sprocket(unit_cost=Decimal("40"))
    put_in_stock(found)
    return found


def figures(since=0, until=400):
    return {one.name: one for one in stockout_figures(day(since), day(until))}


def test_a_job_that_is_short_counts_once(part):
    other = sprocket("SPR-B")
    for item in (part, other, part):
        request(10, item, work_order="WO-1", result="not_filled")
    request(20, part, work_order="WO-2", result="filled")
    found = figures()["stockouts"]
    assert (found.count, found.of, found.share) == (1, 2, 0.5)
    assert [(row.work_order, row.storeroom, row.on) for row in found.rows] == [
        ("WO-1", "MAIN", day(10).date())
    ]


def test_a_substitute_prevents_a_stockout_and_is_told_apart(part):
    request(10, part, work_order="WO-1", result="filled_by_substitute", issued_item=sprocket("SPR-S"))
    request(11, part, work_order="WO-2", result="partly")
    request(12, part, work_order="WO-3", result="filled")
    found = figures()
    assert (found["stockouts"].count, found["stockouts_without_substitutes"].count) == (1, 2)


def test_an_issue_without_a_request_was_filled(part):
    issue(10, part, work_order="WO-1")
    request(11, part, work_order="WO-2", result="not_filled")
    assert (figures()["stockouts"].count, figures()["stockouts"].of) == (1, 2)


def test_only_the_time_that_is_meant_counts(part):
    for at in (5, 15, 25):
        request(at, part, work_order=f"WO-{at}", result="not_filled")
    assert figures(10, 20)["stockouts"].of == 1
    assert figures(100, 200)["stockouts"].share is None


def test_fill_is_by_the_class_of_the_drive(part):
    vital = make.PositionFactory(drive=make.DriveFactory(criticality="vital"))
    request(10, part, vital, work_order="WO-1", result="not_filled")
    request(11, part, vital, work_order="WO-2", result="filled")
    request(12, part, work_order="WO-3", result="filled")
    found = figures()
    assert (found["filled_vital"].count, found["filled_vital"].of) == (1, 2)
    assert [row.work_order for row in found["filled_vital"].rows] == ["WO-1"]
    assert (found["filled_without_class"].count, found["filled_without_class"].of) == (1, 1)


def test_excess_is_what_lies_above_the_maximum(part):
    make.StockPolicyFactory(item=part, storeroom=main_room(), reorder_point=1, order_up_to=45)
    enough = sprocket("SPR-B")
    put_in_stock(enough)
    make.StockPolicyFactory(item=enough, storeroom=main_room(), reorder_point=1, order_up_to=50)
    found = excess(TODAY)
    assert [(row.item, row.pieces, row.value) for row in found.rows] == [("SPR-A", 5, 200)]
    assert (found.count, found.of, found.values) == (
        1,
        2,
        (CurrencyValue(currency="EUR", value=Decimal(200)),),
    )


def test_excess_of_a_past_day_is_of_what_lay_there_then(part):
    """By hand: 50 pieces, 3 of them issued on day 10, against a maximum of 45."""
    policy = make.StockPolicyFactory(item=part, storeroom=main_room(), reorder_point=1, order_up_to=45)
    issue(10, part, work_order="WO-1", quantity=3)
    assert [excess_on_shelf(day(at), [policy]).rows[0].pieces for at in (5, 20)] == [5, 2]
    assert excess_on_shelf(day(-1), [policy]).count == 0


def test_what_one_storeroom_has_too_much_and_another_that_shares_it_lacks_is_no_excess(part):
    cabinet, twin = make.StoreroomFactory(code="CABINET"), sprocket("SPR-B")
    near = NearStoreroom(storeroom_id=cabinet.pk, code="CABINET", minutes=6)
    home = replace(near, storeroom_id=main_room().pk, code="MAIN")
    both = {"member_ids": (part.pk, twin.pk)}
    run_over(
        [
            need_of(part, main_room(), keeps_for=(near,), **both),
            need_of(twin, main_room(), kept_as_id=part.pk, **both),
            need_of(part, cabinet, kept_in=home, **both),
        ]
    )
    for item, room, most in ((part, main_room(), 45), (twin, main_room(), 3), (part, cabinet, 4)):
        make.StockPolicyFactory(item=item, storeroom=room, reorder_point=1, order_up_to=most)
    assert (excess(TODAY).count, excess(TODAY).of) == (0, 1)
    make.stock(twin, main_room(), 2)
    make.stock(part, cabinet, 1)
    (row,) = excess(TODAY).rows
    assert (row.item, row.storeroom, row.pieces, row.value) == ("SPR-A", "MAIN", 1, 40)
    assert row.reasons[0].values == {"maximum": 52}
    assert excess(TODAY, {main_room().pk}).count == 1


def test_remnants_of_chain_are_no_excess_beside_a_reorder_list_that_asks_for_chain():
    chain, room = make.ChainItemFactory(), make.StoreroomFactory(code="MAIN")
    make.stock(chain, room, 988, pieces=[148, *[56] * 15])
    jobs = ChainJobs(links_per_job=92, shortest_links=92, longest_links=92, mean_links=92.0, jobs=8)
    run_over([need_of(chain, room, chain=jobs)])
    policy = make.StockPolicyFactory(item=chain, storeroom=room, reorder_point=92, order_up_to=276)
    assert excess(TODAY).rows == ()
    policy.reorder_point, policy.order_up_to = 0, 1
    policy.save()
    # One job is all that these 988 links serve.
    assert [row.pieces for row in excess(TODAY).rows] == [92 - 1]


def test_a_piece_without_a_price_is_counted_apart(part):
    unpriced = sprocket("SPR-B", unit_cost=None)
    put_in_stock(unpriced)
    make.StockPolicyFactory(item=unpriced, storeroom=main_room(), reorder_point=1, order_up_to=40)
    found = excess(TODAY)
    assert (found.count, found.rows_without_value, found.values) == (1, 1, ())


@pytest.fixture
def three_parts(db):
    """One that a position in use takes after work, one that only a position out of use takes, one for nobody."""
    used, left, alone = sprocket("SPR-USED"), sprocket("SPR-LEFT"), sprocket("SPR-ALONE")
    put_in_stock(used, left, alone)
    here, gone = make.PositionFactory(), make.PositionFactory(in_use_until=day(100).date())
    CoverState.objects.create(position=here, inputs_hash="x")
    here.cover.create(item=used, grade="with_work")
    here.cover.create(item=alone, grade="needs_review")
    gone.cover.create(item=left, grade="drop_in")
    return used, left, alone


def test_dead_stock_is_what_no_position_in_use_takes_even_after_work(three_parts):
    found = dead_stock(TODAY)
    assert [row.item for row in found.rows] == ["SPR-ALONE", "SPR-LEFT"]
    assert (found.count, found.of) == (2, 3)
    assert dead_stock(TODAY, at=day(-1)).count == 0


def test_dead_stock_says_that_it_is_not_known_yet(part):
    found = dead_stock(TODAY)
    assert (found.count, found.of, found.share) == (0, None, None)
    assert [note.code for note in found.notes] == ["cover_not_calculated"]


def test_insurance_names_the_drives_that_it_protects(three_parts):
    used, left, _ = three_parts
    for item in (used, left):
        item.holding_reason = "insurance"
        item.save()
    rows = {row.item: row.reasons[0].values for row in insurance(TODAY).rows}
    assert rows["SPR-USED"]["drives"] == 1
    assert rows["SPR-LEFT"]["drives"] == 0


def test_an_order_is_late_from_the_day_after_its_promise(part):
    for days, promised in ((0, TODAY), (1, TODAY - timedelta(days=1)), (2, None)):
        make.SupplyOrderFactory(item=part, storeroom=main_room(), promised_on=promised, quantity=days + 1)
    found = late_orders(TODAY)
    assert (found.count, found.of) == (1, 3)
    assert [(row.pieces, row.reasons[0].values["days"]) for row in found.rows] == [(2, 1)]


def test_emergencies_are_out_of_all_orders_of_the_time(part):
    for at, emergency, status in (
        (10, True, "open"),
        (11, False, "open"),
        (12, True, "cancelled"),
        (300, True, "open"),
    ):
        make.SupplyOrderFactory(
            item=part,
            storeroom=main_room(),
            ordered_at=day(at),
            emergency=emergency,
            status=status,
            unit_price="55",
        )
    found = emergency_buys(day(0), day(100))
    assert (found.count, found.of, found.values[0].value) == (1, 2, 55)


def test_other_storerooms_are_not_counted(part):
    north = make.StoreroomFactory(code="NORTH")
    request(10, part, storeroom=north, work_order="WO-1", result="not_filled")
    counted = stockout_figures(day(0), day(400), {main_room().pk})
    assert counted[0].of == 0


def test_a_plant_that_the_caller_does_not_see_is_not_named(three_parts):
    used, _, _ = three_parts
    used.holding_reason = "insurance"
    used.save()
    hidden = make.PositionFactory()
    request(10, used, hidden, work_order="WO-1", result="not_filled")
    with scoped_to(lambda: AccessScope(plants=frozenset(), storerooms=frozenset({main_room().pk}))):
        (insured,) = insurance(TODAY).rows
        (job,) = figures()["stockouts"].rows
        dead = dead_stock(TODAY)
    assert (insured.reasons[0].values["drives"], insured.reasons[0].values["named"]) == (0, "")
    assert (job.work_order, job.position, job.drive) == ("WO-1", "", "")
    assert [row.item for row in dead.rows] == ["SPR-ALONE", "SPR-LEFT"]

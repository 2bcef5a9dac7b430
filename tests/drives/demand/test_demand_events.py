"""What counts as demand, each rule by name."""

import pytest

from drives.demand.demand_events import load_demand_events
from drives.models import EndedBy
from inventory.stocking.demand_settings import SHIPPED
from inventory.stores import ledger
from tests import movements
from tests.drives.demand.demand_records import (
    LATER,
    bring_back,
    day,
    events,
    issue,
    main_room,
    pieces,
    put_in_stock,
    ran,
    request,
    sprocket,
)
from tests.factories import (
    ChainItemFactory,
    DrivenFactory,
    InspectionFactory,
    PlantFactory,
    PositionFactory,
    StoreroomFactory,
    stock,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def part():
    part = sprocket()
    put_in_stock(part)
    return part


@pytest.fixture
def position():
    return PositionFactory()


@pytest.mark.parametrize("result", ["not_filled", "not_stocked", "partly", "filled"])
def test_a_request_counts_whatever_its_result(part, result):
    request(10, part, quantity=2, result=result)
    (event,) = events()
    assert (event.quantity, event.result, event.source) == (2, result, "request")


def test_a_substitute_counts_once_and_for_the_item_requested(part):
    other = sprocket("SPR-B")
    put_in_stock(other)
    request(10, part, work_order="WO-1", result="filled_by_substitute", issued_item=other)
    issue(10, other, work_order="WO-1")
    (event,) = events()
    assert (event.item_id, event.given_id, event.quantity) == (part.pk, other.pk, 1)


def test_a_substitute_that_was_not_recorded_counts_once_too(part):
    other = sprocket("SPR-B")
    put_in_stock(other)
    request(10, part, work_order="WO-1", result="filled_by_substitute")
    issue(10, other, work_order="WO-1")
    assert [event.item_id for event in events()] == [part.pk]


def test_a_request_that_names_only_a_position_matches_the_issue_of_its_order(part, position):
    request(10, None, position, work_order="WO-1")
    issue(10, part, work_order="WO-1", position=position.tag)
    assert [event.source for event in events()] == ["request"]


def test_an_issue_of_the_same_order_is_not_counted_twice(part, position):
    request(10, part, position, work_order="WO-1")
    issue(30, part, work_order="WO-1", position=position.tag)
    assert pieces() == 1


def test_an_issue_on_another_order_is_a_need_of_its_own(part, position):
    request(10, part, position, work_order="WO-1")
    issue(10, part, work_order="WO-2", position=position.tag)
    assert pieces() == 2


def test_pieces_issued_beyond_those_requested_count_too(part):
    request(10, part, work_order="WO-1")
    issue(10, part, 3, work_order="WO-1")
    assert [(event.source, event.quantity) for event in events()] == [("issue", 2), ("request", 1)]


def test_one_request_matches_several_issues_up_to_its_pieces(part):
    request(10, part, quantity=3, work_order="WO-1")
    issue(10, part, 1, work_order="WO-1")
    issue(11, part, 2, work_order="WO-1")
    issue(12, part, 1, work_order="WO-1")
    assert pieces() == 4


def test_an_issue_without_a_request_counts(part, position):
    issue(10, part, 2, work_order="WO-1", position=position.tag)
    (event,) = events()
    assert (event.source, event.quantity, event.position_id) == ("issue", 2, position.pk)


def test_without_an_order_an_issue_near_in_time_for_the_same_position_is_the_same_need(part, position):
    request(10, part, position)
    issue(12, part, position=position.tag)
    assert pieces() == 1


def test_without_an_order_an_issue_long_after_is_another_need(part, position):
    request(10, part, position)
    issue(10 + SHIPPED.same_need.days + 1, part, position=position.tag)
    assert pieces() == 2


def test_one_request_without_an_order_matches_one_issue(part, position):
    request(10, part, position)
    issue(11, part, position=position.tag)
    issue(12, part, position=position.tag)
    assert pieces() == 2


def test_an_order_on_only_one_of_two_records_does_not_make_two_needs(part, position):
    request(10, part, position, work_order="WO-1")
    issue(11, part, position=position.tag)
    assert pieces() == 1


def test_of_two_requests_for_one_position_the_earlier_is_matched_first(part, position):
    request(10, part, position)
    request(14, part, position)
    issue(13, part, position=position.tag)
    issue(20, part, position=position.tag)
    assert [event.source for event in events()] == ["request", "request"]


def test_another_item_issued_on_the_order_is_a_need_of_its_own_where_the_item_issued_is_known(part, position):
    other = sprocket("SPR-B")
    put_in_stock(other)
    request(10, part, position, work_order="WO-1")
    issue(10, other, work_order="WO-1", position=position.tag)
    assert [event.item_id for event in events()] == [part.pk, other.pk]


def test_two_positions_on_one_order_are_two_needs(part, position):
    request(10, part, position, work_order="WO-1")
    issue(10, part, work_order="WO-1", position=PositionFactory().tag)
    assert pieces() == 2


def test_a_request_and_its_issue_without_position_or_order_are_one_need(part):
    request(10, part)
    issue(10, part)
    assert pieces() == 1


def test_what_is_lent_out_is_no_demand_until_it_is_overdue(part):
    issue(10, part, work_order="WO-1", expected_back_on=day(20).date())
    assert (pieces(15), pieces(20), pieces(21)) == (0, 0, 1)


def test_what_was_lent_out_and_returned_was_never_needed(part):
    issue(10, part, work_order="WO-1", expected_back_on=day(20).date())
    bring_back(18, part, work_order="WO-1")
    assert pieces() == 0


def test_a_return_of_a_lent_piece_leaves_the_piece_that_was_fitted(part):
    issue(10, part, work_order="WO-1", expected_back_on=day(20).date())
    issue(11, part, work_order="WO-1")
    bring_back(12, part, work_order="WO-1")
    assert (pieces(11), pieces(15), pieces()) == (1, 1, 1)


def test_an_issue_that_was_reversed_is_no_demand(part):
    entry = issue(10, part, work_order="WO-1").entry
    ledger.reverse(entry, by="Marta Keller", reason="booked twice")
    assert events() == ()


def test_a_return_cancels_its_issue(part):
    issue(10, part, 2, work_order="WO-1")
    bring_back(12, part, 2, work_order="WO-1")
    assert (pieces(11), pieces()) == (2, 0)


def test_a_return_in_part_leaves_the_rest(part):
    request(10, part, quantity=3, work_order="WO-1")
    issue(10, part, 3, work_order="WO-1")
    bring_back(12, part, 1, work_order="WO-1")
    assert pieces() == 2


def test_a_return_cancels_nothing_of_another_order(part):
    issue(10, part, work_order="WO-1")
    issue(10, part, work_order="WO-2")
    bring_back(12, part, 2, work_order="WO-2")
    assert [event.work_order for event in events()] == ["WO-1"]


def test_a_return_without_an_order_cancels_what_its_position_requested(part, position):
    issue(10, part, position=position.tag)
    issue(10, part, position=PositionFactory().tag)
    bring_back(12, part, position=position.tag)
    assert [event.position_id == position.pk for event in events()] == [False]


def test_a_return_cancels_nothing_that_was_issued_after_it(part):
    issue(10, part, work_order="WO-1")
    bring_back(12, part, 2, work_order="WO-1")
    issue(14, part, work_order="WO-1")
    assert [event.at for event in events()] == [day(14)]


def test_a_return_that_was_reversed_cancels_nothing(part):
    issue(10, part, work_order="WO-1")
    ledger.reverse(bring_back(12, part, work_order="WO-1").entry, by="Marta Keller", reason="not back")
    assert pieces() == 1


def test_a_piece_returned_as_defective_was_needed_all_the_same(part):
    issue(10, part, work_order="WO-1")
    bring_back(12, part, work_order="WO-1", reason_code="defective")
    assert pieces() == 1


def test_a_returned_substitute_cancels_the_item_requested(part):
    other = sprocket("SPR-B")
    put_in_stock(other)
    request(10, part, work_order="WO-1", result="filled_by_substitute", issued_item=other)
    issue(10, other, work_order="WO-1")
    bring_back(11, other, work_order="WO-1")
    assert pieces() == 0


PLANNED = {
    "preventive": True,
    "modification": True,
    "failure": False,
    "limit_reached": False,
    "opportunity": False,
}


@pytest.mark.parametrize(("ended_by", "is_planned"), [*PLANNED.items(), ("unknown", False)])
def test_the_end_of_the_unit_decides_whether_it_was_planned(part, position, ended_by, is_planned):
    ran(position, part, 0, 10, ended_by, work_order="WO-1")
    request(10, part, position, work_order="WO-1")
    (event,) = events()
    assert event.is_planned is is_planned


@pytest.mark.parametrize(("ended_by", "is_planned"), PLANNED.items())
def test_the_end_of_the_unit_decides_for_issues_and_removals_alike(part, ended_by, is_planned):
    issued, removed = PositionFactory(), PositionFactory()
    ran(issued, part, 0, 10, ended_by)
    issue(11, part, position=issued.tag)
    ran(removed, part, 0, 10, ended_by)
    assert [(a.source, a.is_planned) for a in events()] == [("removal", is_planned), ("issue", is_planned)]


@pytest.mark.parametrize("given", [True, False])
def test_planned_as_recorded_wins_over_the_end_of_the_unit(part, position, given):
    ran(position, part, 0, 10, "failure" if given else "preventive", work_order="WO-1")
    request(10, part, position, work_order="WO-1", is_planned=given)
    assert [event.is_planned for event in events()] == [given]


def test_an_end_recorded_without_the_order_still_decides(part, position):
    ran(position, part, 0, 10, "preventive")
    request(10, part, position, work_order="WO-1")
    assert [event.is_planned for event in events()] == [True]


def test_a_failure_on_another_order_at_the_same_stop_is_not_planned(part, position):
    ran(position, part, 0, 10, "preventive", work_order="WO-1")
    request(11, part, position, work_order="WO-2")
    assert [(a.work_order, a.is_planned) for a in events()] == [("WO-1", True), ("WO-2", False)]


def test_an_issue_that_names_only_the_order_is_planned_if_all_ends_of_the_order_were(part, position):
    ran(position, part, 0, 10, "preventive", work_order="WO-1")
    issue(10, part, work_order="WO-1")
    (event,) = events()
    assert (event.source, event.is_planned) == ("issue", True)


def test_one_failure_makes_an_order_unplanned(part, position):
    ran(position, part, 0, 10, "preventive", work_order="WO-1")
    ran(PositionFactory(), part, 0, 10, "failure", work_order="WO-1")
    issue(10, part, 2, work_order="WO-1")
    assert [(a.quantity, a.is_planned) for a in events()] == [(2, False)]


def test_a_unit_renewed_without_a_request_counts(part, position):
    ran(position, part, 0, 10, "failure", work_order="WO-1")
    (event,) = events()
    assert (event.source, event.quantity, event.item_id) == ("removal", 1, part.pk)
    assert (event.storeroom_id, event.position_id) == (main_room().pk, position.pk)


@pytest.mark.parametrize("ended_by", [EndedBy.DECOMMISSIONED, EndedBy.RELOCATED])
def test_a_unit_that_is_not_replaced_needs_nothing(part, position, ended_by):
    ran(position, part, 0, 10, ended_by)
    assert events() == ()


def test_a_unit_renewed_with_a_request_near_in_time_counts_once(part, position):
    ran(position, part, 0, 10, "failure")
    request(12, part, position, work_order="WO-1")
    assert pieces() == 1


def test_a_unit_renewed_on_an_order_requested_long_before_counts_once(part, position):
    request(10, part, position, work_order="WO-1", result="not_filled")
    ran(position, part, 0, 40, "failure", work_order="WO-1")
    assert pieces() == 1


def test_a_new_failure_within_the_week_on_its_own_order_is_a_need_of_its_own(part, position):
    ran(position, part, 0, 10, "failure", work_order="WO-1")
    request(10, part, position, work_order="WO-1")
    ran(position, part, 10, 13, "failure", work_order="WO-2")
    assert [event.work_order for event in events()] == ["WO-1", "WO-2"]


def test_a_request_that_names_the_order_and_no_position_matches_the_unit_renewed(part, position):
    ran(position, part, 0, 10, "failure", work_order="WO-1")
    issue(10, part, work_order="WO-1")
    assert [event.source for event in events()] == ["issue"]


def test_each_piece_of_an_order_matches_one_unit(part):
    for _ in range(3):
        ran(PositionFactory(), part, 0, 10, "failure", work_order="WO-1")
    issue(10, part, 2, work_order="WO-1")
    assert [(a.source, a.quantity) for a in events()] == [("issue", 2), ("removal", 1)]


def test_chain_of_the_same_order_does_not_match_the_sprocket(part, position):
    chain = ChainItemFactory()
    stock(chain, main_room(), 200, pieces=[200])
    ran(position, part, 0, 10, "failure", work_order="WO-1")
    issue(10, chain, 114, work_order="WO-1")
    assert sorted(event.source for event in events()) == ["issue", "removal"]


def test_a_part_of_unknown_kind_requested_for_the_position_matches_the_unit(part, position):
    ran(position, part, 0, 10, "failure", work_order="WO-1")
    request(10, sprocket("SPR-B", specification=None), position, work_order="WO-1")
    assert [event.source for event in events()] == ["request"]


def test_a_removal_in_a_plant_without_a_storeroom_is_no_demand(part):
    position = PositionFactory()
    PlantFactory._meta.model.objects.update(storeroom=None)
    ran(position, part, 0, 10, "failure")
    assert events() == ()


def test_a_retracted_request_is_no_demand(part):
    request(10, part, retracted_at=day(11))
    assert events() == ()


def test_nothing_counts_before_it_happened(part, position):
    request(10, part, work_order="WO-1")
    issue(20, part, work_order="WO-2")
    ran(position, part, 0, 30, "failure")
    assert [pieces(at) for at in (9, 10, 19, 20, 29, 30)] == [0, 1, 1, 2, 2, 3]


def test_driver_driven_and_chain_of_one_order_are_one_job_with_quantities(part, position):
    driven, wheel, chain = (
        DrivenFactory(drive=position.drive),
        sprocket(
            "SPR-B",
        ),
        ChainItemFactory(),
    )
    request(10, part, position, work_order="WO-1")
    request(11, wheel, driven, work_order="WO-1")
    request(11, chain, quantity=114, work_order="WO-1")
    found = events()
    assert sorted(event.quantity for event in found) == [1, 1, 114]
    assert {event.job for event in found} == {("work order", "WO-1")}


def test_a_position_and_an_item_of_equal_key_are_two_jobs(part):
    position = PositionFactory()
    item = sprocket("SPR-X", pk=position.pk + 5000)
    position = PositionFactory(pk=item.pk)
    request(10, part, position)
    request(10, item)
    assert len({event.job for event in events()}) == 2


def test_nine_queries_are_enough(part, django_assert_num_queries):
    for at in range(10, 40, 10):
        position = PositionFactory()
        request(at, part, position, work_order=f"WO-{at}")
        issue(at + 2, part, position=position.tag)
        bring_back(at + 3, part, position=position.tag)
        ran(position, part, 0, at + 5, "failure")
        InspectionFactory(position=position, at=day(at))
    with django_assert_num_queries(9):
        load_demand_events(day(LATER))


def test_records_that_differ_only_in_the_item_issued_have_a_fixed_order(part):
    first, second = sprocket("SPR-B"), sprocket("SPR-C")
    for given in (second, first):
        request(10, part, result="filled_by_substitute", issued_item=given)
    assert [event.given_id for event in events()] == sorted([first.pk, second.pk])


def test_the_storeroom_of_a_request_does_not_depend_on_the_order_of_booking(part):
    north = StoreroomFactory(code="NORTH")
    stock(part, north, 5)
    request(10, part, work_order="WO-1")
    movements.issue(part, north, 1, by="Marta Keller", occurred_at=day(10), work_order="WO-1")
    issue(10, part, work_order="WO-1")
    assert {(a.source, a.storeroom_id) for a in events()} == {
        ("request", main_room().pk),
        ("issue", north.pk),
    }


def test_a_used_unit_returned_without_a_reason_is_the_one_removed(part, position):
    request(10, part, position, work_order="WO-1")
    bring_back(11, part, work_order="WO-1", condition="used_serviceable")
    assert pieces() == 1
    bring_back(12, part, work_order="WO-1", condition="used_serviceable", reason_code="not_needed")
    assert pieces() == 0


@pytest.mark.parametrize(
    ("ended_by", "stops"),
    [("failure", True), ("unknown", True), ("limit_reached", False), ("preventive", False)],
)
def test_a_drive_stands_for_what_failed_and_not_for_what_was_due(part, position, ended_by, stops):
    ran(position, part, 1, 10, ended_by, work_order="WO-1")
    request(10, part, position, work_order="WO-1")
    assert [event.stops for event in events()] == [stops]


def test_chain_renewed_with_a_worn_unit_stands_as_its_drive_did(part, position):
    chain = ChainItemFactory()
    put_in_stock(chain)
    ran(position, part, 1, 10, "limit_reached", work_order="WO-1")
    ran(position, part, 10, 20, "failure", work_order="WO-2")
    issue(10, chain, 4, work_order="WO-1", position=position.tag)
    issue(20, chain, 4, work_order="WO-2", position=position.tag)
    assert [event.stops for event in events() if event.item_id == chain.pk] == [False, True]


@pytest.mark.parametrize(
    ("days_before", "elongation", "stops"),
    [(2, 2.0, False), (2, 1.0, True), (60, 2.0, True), (-2, 2.0, True)],
)
def test_chain_measured_worn_just_before_was_renewed_on_a_chosen_day(
    position, days_before, elongation, stops
):
    # The limit of 19 teeth is 3 %, its warning share 1.8 %.
    position.teeth = 19
    position.save()
    chain = ChainItemFactory()
    put_in_stock(chain)
    InspectionFactory(position=position, at=day(100 - days_before), elongation_percent=elongation)
    issue(100, chain, 4, work_order="WO-1", position=position.tag)
    assert [event.stops for event in events()] == [stops]


@pytest.mark.parametrize(
    ("mate_ended_by", "stops"),
    [("failure", True), ("limit_reached", False), ("preventive", False), (None, True)],
)
def test_what_is_renewed_with_its_mate_stands_as_the_mate_did(part, position, mate_ended_by, stops):
    mate = DrivenFactory(drive=position.drive)
    ran(position, part, 1, 10, "opportunity", work_order="WO-1")
    if mate_ended_by:
        ran(mate, part, 1, 10, mate_ended_by, work_order="WO-2")
    assert [event.stops for event in events() if event.position_id == position.pk] == [stops]

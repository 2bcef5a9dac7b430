from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from drives.feed.intake import take_in
from drives.feed.quarantine import retry_waiting
from drives.models import InboundMessage, Installation, Request, WorkOrder
from drives.service_record import history, pieces_out
from inventory.models import Event, Item, StockEntry, Storeroom
from tests import factories as make
from tests import movements
from tests.drives.feed.messages import FITTED, closed, day, lives, on_hand, order, place, send, used
from tests.drives.feed.state_hash import state, state_hash

pytestmark = pytest.mark.django_db


def test_a_late_failure_divides_the_interval_as_if_reported_in_time() -> None:
    position = place()
    send("WO-2", closed(3, day(700), [used("SPR-B")]))
    send("WO-1", closed(5, day(60), [used("SPR-B")]))
    assert lives(position) == [
        ("SPR-A", FITTED, day(60), "failure"),
        ("SPR-B", day(60), day(700), "failure"),
        ("SPR-B", day(700), None, ""),
    ]
    first, second, _ = Installation.objects.order_by("installed_at")
    assert (first.work_order, second.work_order) == ("WO-1", "WO-2")


def test_a_late_failure_leaves_what_a_person_recorded_at_its_end() -> None:
    position = place(removed_at=day(500), ended_by="preventive", running_hours=Decimal(9), age_basis="meter")
    send("WO-1", closed(5, day(60), [used("SPR-B")]))
    assert lives(position) == [
        ("SPR-A", FITTED, day(60), "failure"),
        ("SPR-B", day(60), day(500), "preventive"),
    ]


@pytest.mark.parametrize("back", [{"status": "cancelled"}, {"status": "closed", "failure": None}])
def test_a_retraction_restores_the_installation(back: dict[str, Any]) -> None:
    position = place()
    send("WO-1", closed(3, day(700), [used()]))
    send("WO-1", order(5, **back))
    assert lives(position) == [("SPR-A", FITTED, None, "")]
    assert (on_hand("SPR-A"), Request.objects.standing().count()) == (5, 0)
    kinds = list(Event.objects.filter(aggregate="position/STEEP-EL1-P1").values_list("type", flat=True))
    assert kinds == ["installation.ended", "installation.begun", "installation.restored"]


def test_a_correction_mends_the_end_and_the_beginning() -> None:
    position = place()
    send("WO-1", closed(3, day(700), [used()]))
    send("WO-1", closed(5, day(690), [used()], failure={"mechanism": "overload", "cause": "stone"}))
    ended = Installation.objects.get(work_order="WO-1")
    assert (ended.mechanism, ended.cause, ended.removed_at) == ("overload", "stone", day(690))
    assert lives(position)[1][1] == day(690)


def test_a_job_without_a_part_begins_the_same_part_again_and_says_so() -> None:
    position = place()
    send("WO-1", closed(3, day(700)))
    begun = history.fitted_at(position)
    assert begun is not None
    assert (str(begun.item), begun.installed_why) == (
        "SPR-A",
        "work order WO-1, no part named: taken to be the same again",
    )


def test_what_is_no_sprocket_for_the_drive_does_not_sit_there() -> None:
    position = place()
    bush = make.BushItemFactory(stock_number="BSH-A")
    make.stock(bush, make.StoreroomFactory(), 3)
    send("WO-1", closed(3, day(700), [used("BSH-A"), used("SPR-B")]))
    begun = history.fitted_at(position)
    assert begun is not None
    assert str(begun.item) == "SPR-B"


def test_a_removal_that_a_person_recorded_is_not_recorded_again() -> None:
    position = place()
    item = make.ItemFactory(stock_number="SPR-B")
    history.remove(position, removed_at=day(700), ended_by="failure", work_order="WO-1")
    history.install(position, item=item, installed_at=day(700))
    before = lives(position)
    taken = send("WO-1", closed(3, day(699), []))
    assert lives(position) == before
    assert taken.record is not None
    assert taken.record.ended is not None


def test_a_place_without_history_begins_with_its_first_failure() -> None:
    make.ItemFactory(stock_number="SPR-A")
    position = make.PositionFactory(tag="STEEP-EL1-P1")
    make.stock(make.ItemFactory(stock_number="SPR-A"), make.StoreroomFactory(), 5)
    send("WO-2", closed(3, day(700), [used()]))
    send("WO-1", closed(3, day(60), [used()]))
    assert lives(position) == [("SPR-A", day(60), day(700), "failure"), ("SPR-A", day(700), None, "")]


def test_a_failure_where_nothing_is_recorded_waits_until_it_is() -> None:
    position = make.PositionFactory(tag="STEEP-EL1-P1")
    taken = send("WO-1", closed(3, day(700)))
    assert [one["about"] for one in taken.reasons] == ["fitted"]
    assert taken.applied
    history.install(position, item=make.ItemFactory(stock_number="SPR-A"), installed_at=FITTED)
    assert retry_waiting(timezone.now()) == (1, 0)
    assert len(lives(position)) == 2


def test_an_order_moved_to_another_position_moves_its_installation() -> None:
    wrong, right = place(), place("STEEP-EL2-P1")
    send("WO-1", closed(3, day(700), [used()]))
    send("WO-1", closed(5, day(700), [used()], position="STEEP-EL2-P1"))
    assert (len(lives(wrong)), len(lives(right))) == (1, 2)
    assert on_hand("SPR-A") == 4


def test_a_changed_quantity_books_the_difference_alone() -> None:
    place()
    for version, quantity in ((1, 1), (2, 3), (3, 2)):
        send("WO-1", order(version, parts_used=[used(quantity=quantity)]))
    assert on_hand("SPR-A") == 3
    standing = StockEntry.objects.not_reversed().filter(work_order="WO-1")
    assert sum(entry.change for entry in standing) == -2


def test_an_order_does_not_take_back_a_piece_that_a_person_has_fitted() -> None:
    place()
    send("WO-1", order(1, parts_used=[used(quantity=1)]))
    issue = StockEntry.objects.get(work_order="WO-1")
    other = make.PositionFactory(tag="STEEP-EL9-P1")
    unit = history.install(other, item=issue.item, installed_at=timezone.now(), stock_entry=issue)
    taken = send("WO-1", order(2, parts_used=[]))
    assert [(one["about"], one["code"]) for one in taken.reasons] == [("refused", "issue_unit_fitted")]
    assert (on_hand("SPR-A"), pieces_out.differences()) == (4, ())
    history.remove(unit, removed_at=timezone.now(), ended_by="unknown")
    assert send("WO-1", order(3, parts_used=[])).reasons == []
    assert on_hand("SPR-A") == 5


def issue_for(work_order: str, **more: Any) -> StockEntry:
    """Somebody hands out a piece at the counter."""
    item, room = Item.objects.get(stock_number="SPR-A"), Storeroom.objects.get()
    return movements.issue(item, room, 1, by="marta", work_order=work_order, **more).entry


def test_what_people_issued_for_the_order_counts_in_its_list_and_is_not_booked_again() -> None:
    position = place()
    handed = issue_for("WO-1")
    first = send("WO-1", closed(1, day(400), [used(quantity=2), used("SPR-B")]))
    assert [(one.code, one.values["pieces"], one.values["movement"]) for one in first.notes] == [
        ("booked_for_order_before", 1, handed.pk)
    ]
    assert (on_hand("SPR-A"), on_hand("SPR-B")) == (3, 4)
    again = send("WO-1", closed(2, day(400), [used(quantity=2), used("SPR-B")]))
    assert (again.notes, on_hand("SPR-A")) == (first.notes, 3)
    assert lives(position)[-1][0] == "SPR-A"
    send("WO-1", order(3, status="cancelled"))
    assert (on_hand("SPR-A"), on_hand("SPR-B")) == (4, 5)


def test_the_unit_that_begins_is_the_piece_that_people_issued() -> None:
    position = place()
    handed = issue_for("WO-1", position=position.tag)
    send("WO-1", closed(1, day(400), [used()]))
    unit = Installation.objects.get(position=position, removed_at=None)
    assert (unit.stock_entry_id, on_hand("SPR-A")) == (handed.pk, 4)


@pytest.mark.parametrize("where", ["another storeroom", "another source"])
def test_what_may_be_another_piece_is_booked(where: str) -> None:
    position = place()
    issue_for("WO-1")
    line = used()
    if where == "another storeroom":
        line |= {"storeroom": make.StoreroomFactory(code="FAR").code}
        make.stock(Item.objects.get(stock_number="SPR-A"), Storeroom.objects.get(code="FAR"), 1)
    else:
        take_in("work_order", "projects", "WO-1", order(1))
    assert send("WO-1", closed(1, day(400), [line])).notes == ()
    assert StockEntry.objects.filter(kind="issue", position__in=["", position.tag]).count() == 2


def test_what_came_back_is_a_return_of_its_own() -> None:
    place()
    send("WO-1", order(1, parts_used=[used(quantity=3), used(quantity=-2, reason_code="not_needed")]))
    back = StockEntry.objects.get(kind="return")
    assert (back.change, back.reason_code, on_hand("SPR-A")) == (2, "not_needed", 4)


def test_pieces_that_are_not_there_are_booked_once_they_are() -> None:
    place()
    first = send("WO-1", order(1, parts_used=[used(quantity=4)]))
    second = send("WO-2", order(1, parts_used=[used(quantity=3)]))
    assert ([first.outcome, second.outcome], on_hand("SPR-A")) == (["applied", "waiting"], 0)
    send("WO-1", order(2, status="cancelled"))
    assert (on_hand("SPR-A"), InboundMessage.objects.filter(outcome="waiting").count()) == (2, 0)


def test_a_closed_job_requests_what_it_needed_and_used() -> None:
    place()
    needed = [used("SPR-A", 2)]
    send("WO-1", order(1, parts_needed=needed))
    assert not Request.objects.exists()
    send("WO-1", closed(3, day(700), [used("SPR-A")], parts_needed=needed))
    asked = Request.objects.get()
    assert (asked.quantity, asked.result, asked.is_planned, asked.work_order) == (2, "partly", False, "WO-1")


def test_another_item_used_is_a_substitute() -> None:
    place()
    send("WO-1", closed(3, day(700), [used("SPR-B")], parts_needed=[used("SPR-A")]))
    asked = Request.objects.get()
    assert (asked.result, str(asked.item), str(asked.issued_item)) == (
        "filled_by_substitute",
        "SPR-A",
        "SPR-B",
    )


def test_a_feed_sent_again_after_an_older_backup_brings_the_state_forward() -> None:
    place()
    sent = [
        ("WO-1", order(1)),
        ("WO-1", closed(3, day(700), [used()])),
        ("WO-2", closed(4, day(60), [used("SPR-B")])),
        ("WO-1", closed(9, day(699), [used()])),
    ]
    for number, body in sent[:2]:
        send(number, body)
    backup = state_hash()
    for number, body in sent:
        send(number, body)
    whole, entries, rows = state(), StockEntry.objects.count(), InboundMessage.objects.count()
    assert state_hash() != backup
    for number, body in sent:
        assert not send(number, body).applied
    assert (state(), StockEntry.objects.count(), InboundMessage.objects.count()) == (whole, entries, rows)
    assert WorkOrder.objects.count() == 2

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from inventory.facts import fact
from inventory.models import Reservation, StockEntry, StockLevel, StockPiece
from inventory.stores import ledger
from inventory.stores.ledger.verify import verify
from tests import movements
from tests.factories import (
    MORNING,
    BinFactory,
    ChainItemFactory,
    ItemFactory,
    StockingTermsFactory,
    StoreroomFactory,
    UserFactory,
    stock,
)

pytestmark = pytest.mark.django_db
MARTA = "Marta Keller"


@pytest.fixture
def item():
    return ItemFactory(stock_number="SPR-08B17")


@pytest.fixture
def chain():
    return ChainItemFactory(stock_number="CHN-08B")


@pytest.fixture
def main():
    return StoreroomFactory(code="MAIN")


@pytest.fixture
def north():
    return StoreroomFactory(code="NORTH")


def on_hand(item, storeroom, condition="new") -> int:
    return StockLevel.objects.get(item=item, storeroom=storeroom, condition=condition).on_hand


def reserved(item, storeroom) -> int:
    return StockLevel.objects.get(item=item, storeroom=storeroom).reserved


def lengths(item) -> list[int]:
    pieces = StockPiece.objects.filter(level__item=item, links__gt=0)
    return list(pieces.order_by("-links").values_list("links", flat=True))


def test_a_receipt_makes_the_shelf_and_says_who_when_and_why(item, main):
    marta, place = UserFactory(), BinFactory(storeroom=main, code="A-07")
    booked = movements.receive(
        item, main, 4, by=marta, bin=place, reference="DEL-1", unit_cost=Decimal("38.50"), occurred_at=MORNING
    )
    level = StockLevel.objects.get()
    assert (level.on_hand, level.reserved, level.bin) == (4, 0, place)
    entry = StockEntry.objects.get()
    assert entry == booked.entry
    assert (entry.kind, entry.change, entry.balance_after) == ("receipt", 4, 4)
    assert (entry.recorded_by, entry.recorded_by_name, entry.occurred_at) == (marta, "marta", MORNING)


def test_an_issue_takes_from_the_shelf(item, main):
    stock(item, main, 4)
    booked = movements.issue(item, main, 3, by=MARTA, work_order="WO-7", position="STEEP-EL1-P1")
    assert (booked.balance_after, booked.on_hand) == (1, 1)
    assert (booked.entry.change, booked.entry.work_order) == (-3, "WO-7")
    assert booked.entry.position == "STEEP-EL1-P1"


def test_it_refuses_issue_beyond_stock(item, main):
    stock(item, main, 2)
    with pytest.raises(ledger.StockShort) as refusal:
        movements.issue(item, main, 3, by=MARTA)
    counts = {"requested": 3, "available": 2, "on_hand": 2, "reserved": 0}
    assert refusal.value.fact == fact("stock_short", item="SPR-08B17", storeroom="MAIN", **counts)
    assert (refusal.value.requested, refusal.value.available, refusal.value.field) == (3, 2, "quantity")
    assert on_hand(item, main) == 2
    assert StockEntry.objects.count() == 1


def test_it_refuses_issue_from_a_shelf_that_never_was(item, main):
    with pytest.raises(ledger.StockShort):
        movements.issue(item, main, 1, by=MARTA)
    assert not StockLevel.objects.exists()


def test_it_refuses_issue_of_stock_reserved_for_other_work(item, main):
    stock(item, main, 3)
    ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    with pytest.raises(ledger.ReservedForOthers, match=r"stock_reserved.*WO-1.*2") as refusal:
        movements.issue(item, main, 2, by=MARTA, work_order="WO-2")
    assert [hold.work_order for hold in refusal.value.reservations] == ["WO-1"]
    assert refusal.value.available == 1


@pytest.mark.parametrize(
    ("quantity", "open_quantity", "state", "held"),
    [(1, 2, "open", 2), (3, 0, "used", 0), (4, 0, "used", 0)],
)
def test_an_issue_uses_up_the_reservation_of_its_work_order(item, main, quantity, open_quantity, state, held):
    stock(item, main, 4)
    ledger.reserve(item, main, 3, work_order="WO-1", by=MARTA)
    movements.issue(item, main, quantity, by=MARTA, work_order="WO-1")
    hold = Reservation.objects.get()
    assert (hold.open_quantity, hold.state) == (open_quantity, state)
    assert reserved(item, main) == held


def test_an_issue_uses_up_several_reservations_the_oldest_first(item, main):
    stock(item, main, 5)
    first = ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    second = ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    movements.issue(item, main, 3, by=MARTA, work_order="WO-1")
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.open_quantity, second.open_quantity) == (0, 1)


def test_a_scrap_leaves_alone_what_is_held_back(item, main):
    stock(item, main, 2)
    ledger.reserve(item, main, 1, work_order="WO-1", by=MARTA)
    with pytest.raises(ledger.ReservedForOthers):
        movements.scrap(item, main, 2, by=MARTA, work_order="WO-1", reason_code="defective")
    assert movements.scrap(item, main, 1, by=MARTA, reason_code="defective").balance_after == 1


def test_it_refuses_issue_from_hold(item, main):
    stock(item, main, 2, condition="on_hold")
    with pytest.raises(ledger.LedgerRefusal, match="stock_on_hold_not_issued"):
        movements.issue(item, main, 1, by=MARTA, condition="on_hold")


def test_what_was_on_hold_is_freed_by_a_transfer_between_conditions(item, main):
    stock(item, main, 2, condition="on_hold")
    booked = movements.transfer(
        item, main, main, 2, by=MARTA, condition="on_hold", to_condition="used_serviceable", reference="R-1"
    )
    assert on_hand(item, main, "used_serviceable") == 2
    assert [entry.reference for entry in booked.entries] == ["R-1", ""]


def test_a_return_comes_back_in_its_own_condition(item, main):
    booked = movements.return_to_stock(
        item, main, 1, by=MARTA, condition="used_serviceable", reason_code="did_not_fit"
    )
    assert (booked.entry.kind, booked.entry.reason_code) == ("return", "did_not_fit")
    assert on_hand(item, main, "used_serviceable") == 1


def test_a_transfer_has_two_legs_that_share_a_number(item, main, north):
    stock(item, main, 3)
    booked = movements.transfer(item, main, north, 2, by=MARTA, reference="T-1")
    out, arrival = booked.entries
    assert (out.change, out.storeroom, out.other_storeroom, out.balance_after) == (-2, main, north, 1)
    assert (arrival.change, arrival.storeroom, arrival.balance_after) == (2, north, 2)
    assert out.transfer == arrival.transfer is not None


def test_a_refused_transfer_has_no_leg_and_makes_no_shelf(item, main, north):
    stock(item, main, 1)
    with pytest.raises(ledger.StockShort):
        movements.transfer(item, main, north, 2, by=MARTA)
    assert StockEntry.objects.count() == 1
    assert StockLevel.objects.count() == 1


@pytest.mark.parametrize(("counted", "change"), [(5, 2), (3, 0), (0, -3)])
def test_a_count_sets_the_book_right(item, main, counted, change):
    stock(item, main, 3)
    booked = movements.count(item, main, counted, by=MARTA, occurred_at=MORNING)
    assert (booked.entry.change, booked.entry.counted, booked.balance_after) == (change, counted, counted)
    assert StockLevel.objects.get().last_counted_at == MORNING


def test_a_count_of_an_unknown_shelf_makes_it(item, main):
    assert movements.count(item, main, 2, by=MARTA, reason_code="found").balance_after == 2


def test_a_count_keeps_what_was_booked_since_the_shelf_was_seen(item, main):
    stock(item, main, 10)
    movements.issue(item, main, 3, by=MARTA)
    booked = movements.count(item, main, 9, by=MARTA, seen=10)
    assert (booked.entry.change, booked.balance_after) == (-1, 6)


def test_it_refuses_a_count_below_what_is_held_back(item, main):
    stock(item, main, 3)
    ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    with pytest.raises(ledger.ReservedForOthers, match=r"count_below_reserved.*WO-1.*2") as refusal:
        movements.count(item, main, 1, by=MARTA)
    assert refusal.value.field == "counted"


def test_the_same_reference_is_booked_once(item, main):
    first = movements.receive(item, main, 4, by=MARTA, reference="DEL-1")
    again = movements.receive(item, main, 4, by=MARTA, reference="DEL-1")
    assert again.is_replay
    assert again.entry == first.entry
    assert on_hand(item, main) == 4


def test_the_same_transfer_is_booked_once(item, main, north):
    stock(item, main, 3)
    first = movements.transfer(item, main, north, 2, by=MARTA, reference="T-1")
    again = movements.transfer(item, main, north, 2, by=MARTA, reference="T-1")
    assert again.is_replay
    assert again.entries == first.entries


@pytest.mark.parametrize(
    ("changed", "differs"),
    [
        ({"quantity": 5}, "quantity"),
        ({"work_order": "WO-9"}, "work_order"),
        ({"condition": "on_hold"}, "condition"),
    ],
)
def test_a_reference_of_another_movement_is_refused_with_what_differs(item, main, changed, differs):
    asked = {"quantity": 4, "by": MARTA, "reference": "DEL-1"}
    movements.receive(item, main, **asked)
    with pytest.raises(ledger.AlreadyBooked, match=f"reference_already_booked.*{differs}") as refusal:
        movements.receive(item, main, **asked | changed)
    assert refusal.value.differs == differs


REFUSED = [
    ({"quantity": 0}, "quantity", "quantity_out_of_range"),
    ({"quantity": -1}, "quantity", "quantity_out_of_range"),
    ({"quantity": True}, "quantity", "quantity_out_of_range"),
    ({"quantity": 2.5}, "quantity", "quantity_out_of_range"),
    ({"quantity": 10**9 + 1}, "quantity", "quantity_out_of_range"),
    ({"condition": "shiny"}, "condition", "word_not_known"),
    ({"by": " "}, "by", "recorder_missing"),
    ({"reference": "x" * 81}, "reference", "text_too_long"),
    ({"work_order": "a\x00b"}, "work_order", "text_with_zero_character"),
    ({"unit_cost": Decimal("-1")}, "unit_cost", "unit_cost_out_of_range"),
    ({"unit_cost": Decimal("NaN")}, "unit_cost", "unit_cost_out_of_range"),
    ({"occurred_at": timezone.now() + timedelta(days=1)}, "occurred_at", "moment_in_future"),
    ({"occurred_at": MORNING.replace(tzinfo=None)}, "occurred_at", "moment_without_offset"),
    ({"pieces": [1, 1]}, "piece", "item_not_in_links"),
]


@pytest.mark.parametrize(("wrong", "field", "code"), REFUSED)
def test_it_refuses_invalid_movements_with_a_code(item, main, wrong, field, code):
    with pytest.raises(ledger.LedgerRefusal) as refusal:
        movements.receive(item, main, **{"quantity": 2, "by": MARTA} | wrong)
    assert (refusal.value.field, refusal.value.fact.code) == (field, code)
    assert not StockLevel.objects.exists()


def test_a_clock_a_little_ahead_is_forgiven(item, main):
    moment = timezone.now() + timedelta(minutes=4)
    assert movements.receive(item, main, 1, by=MARTA, occurred_at=moment).entry.occurred_at == moment


def test_it_refuses_a_bin_of_another_storeroom(item, main, north):
    with pytest.raises(ledger.LedgerRefusal, match=r"bin_in_other_storeroom.*MAIN"):
        movements.receive(item, main, 1, by=MARTA, bin=BinFactory(storeroom=north, code="N-1"))


def test_it_refuses_a_transfer_to_the_same_place(item, main):
    stock(item, main, 1)
    with pytest.raises(ledger.LedgerRefusal, match="transfer_to_same_place"):
        movements.transfer(item, main, main, 1, by=MARTA)


def test_a_shelf_never_overflows(item, main):
    stock(item, main, 10**9)
    with pytest.raises(ledger.LedgerRefusal, match="stock_level_too_high"):
        movements.receive(item, main, 1, by=MARTA)


def test_chain_comes_in_as_boxes(chain, main):
    stock(chain, main, 520, pieces=[240, 240, 40])
    assert lengths(chain) == [240, 240, 40]


def test_it_refuses_boxes_that_do_not_add_up(chain, main):
    with pytest.raises(ledger.LedgerRefusal, match=r"pieces_do_not_add_up.*480.*500"):
        stock(chain, main, 500, pieces=[240, 240])


def test_an_issue_cuts_the_shortest_piece_that_is_long_enough(chain, main):
    stock(chain, main, 420, pieces=[240, 120, 60])
    booked = movements.issue(chain, main, 100, by=MARTA)
    assert lengths(chain) == [240, 60, 20]
    assert booked.entry.piece.links == 20


def test_an_issue_cuts_the_piece_that_is_named(chain, main):
    stock(chain, main, 360, pieces=[240, 120])
    movements.issue(chain, main, 100, by=MARTA, piece=StockPiece.objects.get(links=240))
    assert lengths(chain) == [140, 120]


def test_it_refuses_to_join_pieces_unless_allowed_and_lists_them(chain, main):
    stock(chain, main, 200, pieces=[100, 60, 40])
    with pytest.raises(ledger.PiecesTooShort, match=r"no_piece_long_enough.*\(100, 60, 40\)") as refusal:
        movements.issue(chain, main, 120, by=MARTA)
    assert refusal.value.pieces == (100, 60, 40)
    assert on_hand(chain, main) == 200


def test_pieces_are_joined_when_allowed_with_few_joints(chain, main):
    StockingTermsFactory(chain_joints=1)
    stock(chain, main, 200, pieces=[100, 60, 40])
    booked = movements.issue(chain, main, 130, by=MARTA, join_pieces=True)
    assert lengths(chain) == [60, 10]
    assert booked.entry.piece is None


@pytest.mark.parametrize(("joints", "most"), [(0, 100), (1, 160), (2, 200)])
def test_no_chain_has_more_joints_than_the_plant_allows(chain, main, joints, most):
    if joints:
        StockingTermsFactory(chain_joints=joints)
    stock(chain, main, 200, pieces=[100, 60, 40])
    if most < 200:
        with pytest.raises(ledger.PiecesTooShort, match="too_many_joints") as refusal:
            movements.issue(chain, main, most + 1, by=MARTA, join_pieces=True)
        assert refusal.value.fact.values["chain_joints"] == joints
        assert lengths(chain) == [100, 60, 40]
    assert movements.issue(chain, main, most, by=MARTA, join_pieces=True).balance_after == 200 - most


def test_what_leaves_for_no_machine_has_no_joints(chain, main):
    stock(chain, main, 200, pieces=[100, 60, 40])
    assert movements.scrap(chain, main, 200, by=MARTA, join_pieces=True).balance_after == 0


def test_chain_is_reserved_where_it_can_be_cut_beside_what_is_reserved(chain, main):
    stock(chain, main, 180, pieces=[90, 90])
    with pytest.raises(ledger.PiecesTooShort, match="no_piece_to_reserve"):
        ledger.reserve(chain, main, 164, work_order="WO-1", by=MARTA)
    for number in (1, 2):
        ledger.reserve(chain, main, 50, work_order=f"WO-{number}", by=MARTA)
    with pytest.raises(ledger.PiecesTooShort) as refusal:
        ledger.reserve(chain, main, 70, work_order="WO-3", by=MARTA)
    assert refusal.value.fact.values["chain_joints"] == 0
    StockingTermsFactory(chain_joints=1)
    assert ledger.reserve(chain, main, 70, work_order="WO-3", by=MARTA).open_quantity == 70


def test_it_refuses_a_named_piece_that_is_too_short(chain, main):
    stock(chain, main, 160, pieces=[100, 60])
    with pytest.raises(ledger.PiecesTooShort, match=r"piece_too_short.*60.*80"):
        movements.issue(chain, main, 80, by=MARTA, piece=StockPiece.objects.get(links=60))


def test_it_refuses_a_piece_of_another_shelf(chain, main, north):
    stock(chain, main, 100)
    stock(chain, north, 90)
    with pytest.raises(ledger.LedgerRefusal, match=r"piece_not_here.*100"):
        movements.issue(chain, main, 10, by=MARTA, piece=StockPiece.objects.get(links=90))


def test_a_piece_keeps_its_label_when_it_moves(chain, main, north):
    stock(chain, main, 100, piece_label="box 12")
    movements.transfer(chain, main, north, 40, by=MARTA)
    moved = StockPiece.objects.get(level__storeroom=north)
    assert (moved.links, moved.label) == (40, "box 12")


def test_a_piece_is_counted_by_itself(chain, main):
    stock(chain, main, 160, pieces=[100, 60])
    booked = movements.count(chain, main, 56, by=MARTA, piece=StockPiece.objects.get(links=60))
    assert (booked.entry.change, booked.entry.counted, booked.balance_after) == (-4, 56, 156)
    assert lengths(chain) == [100, 56]


def test_a_short_count_of_several_pieces_asks_which(chain, main):
    stock(chain, main, 160, pieces=[100, 60])
    with pytest.raises(ledger.LedgerRefusal, match=r"counted_piece_not_named.*\(100, 60\)"):
        movements.count(chain, main, 150, by=MARTA)


def test_a_count_of_nothing_empties_every_piece(chain, main):
    stock(chain, main, 160, pieces=[100, 60])
    movements.count(chain, main, 0, by=MARTA)
    assert lengths(chain) == []


def test_more_links_than_booked_are_a_piece_of_their_own(chain, main):
    stock(chain, main, 160, pieces=[100, 60])
    movements.count(chain, main, 190, by=MARTA)
    assert lengths(chain) == [100, 60, 30]


def test_an_issue_is_reversed_once(item, main):
    stock(item, main, 3)
    mistake = movements.issue(item, main, 2, by=MARTA, work_order="WO-1").entry
    back = ledger.reverse(mistake, by=MARTA, reason="wrong shelf")
    assert (back.entry.change, back.balance_after, back.entry.reverses) == (2, 3, mistake)
    with pytest.raises(ledger.AlreadyReversed):
        ledger.reverse(mistake, by=MARTA, reason="wrong shelf")
    assert on_hand(item, main) == 3


def test_a_transfer_is_reversed_in_both_legs(item, main, north):
    stock(item, main, 3)
    out, arrival = movements.transfer(item, main, north, 2, by=MARTA).entries
    ledger.reverse(out, by=MARTA, reason="stays here")
    assert (on_hand(item, main), on_hand(item, north)) == (3, 0)
    with pytest.raises(ledger.AlreadyReversed):
        ledger.reverse(arrival, by=MARTA, reason="stays here")


def test_a_transfer_sent_again_after_its_reversal_is_still_the_same_two_legs(item, main, north):
    stock(item, main, 3)
    first = movements.transfer(item, main, north, 2, by=MARTA, reference="T-1")
    ledger.reverse(first.entry, by=MARTA, reason="stays here")
    assert movements.transfer(item, main, north, 2, by=MARTA, reference="T-1").entries == first.entries
    assert on_hand(item, main) == 3


def test_a_receipt_whose_goods_are_gone_cannot_be_reversed(item, main):
    mistake = stock(item, main, 3).entry
    movements.issue(item, main, 1, by=MARTA)
    with pytest.raises(ledger.StockShort):
        ledger.reverse(mistake, by=MARTA, reason="never came")


def test_reversing_puts_links_back_into_the_piece_they_were_cut_from(chain, main):
    stock(chain, main, 160, pieces=[100, 60])
    mistake = movements.issue(chain, main, 60, by=MARTA).entry
    assert lengths(chain) == [100]
    ledger.reverse(mistake, by=MARTA, reason="not cut after all")
    assert lengths(chain) == [100, 60]


def test_a_movement_is_reversed_in_parts_and_never_beyond_what_is_left(item, main):
    stock(item, main, 9)
    mistake = movements.issue(item, main, 5, by=MARTA, work_order="WO-1").entry
    part = ledger.reverse(mistake, by=MARTA, reason="two stayed", quantity=2)
    assert (part.entry.change, part.balance_after, part.entry.work_order) == (2, 6, "WO-1")
    assert [entry.net for entry in StockEntry.objects.not_reversed().issues()] == [-3]
    with pytest.raises(ledger.MoreThanLeft) as refused:
        ledger.reverse(mistake, by=MARTA, reason="four stayed", quantity=4)
    assert (refused.value.left, on_hand(item, main)) == (3, 6)
    assert ledger.reverse(mistake, by=MARTA, reason="all stayed").entry.change == 3
    with pytest.raises(ledger.AlreadyReversed):
        ledger.reverse(mistake, by=MARTA, reason="again", quantity=1)
    assert (on_hand(item, main), verify()) == (9, ())


def test_a_part_of_a_reversal_sent_again_is_booked_once(item, main):
    stock(item, main, 9)
    mistake = movements.issue(item, main, 5, by=MARTA).entry
    same = {"by": MARTA, "reason": "two stayed", "quantity": 2, "reference": "R-1"}
    assert ledger.reverse(mistake, **same).entry == ledger.reverse(mistake, **same).entry
    assert on_hand(item, main) == 6
    with pytest.raises(ledger.AlreadyBooked):
        ledger.reverse(mistake, **same | {"quantity": 1})


def test_a_part_of_a_transfer_is_reversed_at_both_ends(item, main, north):
    stock(item, main, 9)
    out, arrival = movements.transfer(item, main, north, 5, by=MARTA).entries
    ledger.reverse(arrival, by=MARTA, reason="two stayed", quantity=2)
    assert (on_hand(item, main), on_hand(item, north)) == (6, 3)
    ledger.reverse(out, by=MARTA, reason="all stayed")
    assert (on_hand(item, main), on_hand(item, north), verify()) == (9, 0, ())


def test_a_worn_part_that_comes_back_leaves_the_books(item, main):
    stock(item, main, 1)
    movements.issue(item, main, 1, by=MARTA, work_order="WO-1")
    came = movements.return_to_stock(item, main, 1, by=MARTA, reason_code="worn", reference="B-1")
    assert [entry.change for entry in came.entries] == [1, -1]
    assert (on_hand(item, main), verify()) == (0, ())
    again = movements.return_to_stock(item, main, 1, by=MARTA, reason_code="worn", reference="B-1")
    assert (again.entries, again.is_replay) == (came.entries, True)
    ledger.reverse(came.entry, by=MARTA, reason="another number")
    assert (on_hand(item, main), verify(), StockEntry.objects.not_reversed().count()) == (0, (), 2)


@pytest.mark.parametrize(
    ("kind", "code"), [("blank", "reversal_reason_missing"), ("count", "count_changed_nothing")]
)
def test_invalid_reversals_are_refused(item, main, kind, code):
    entry = stock(item, main, 3).entry
    if kind == "count":
        entry = movements.count(item, main, 3, by=MARTA).entry
    with pytest.raises(ledger.LedgerRefusal, match=code):
        ledger.reverse(entry, by=MARTA, reason="" if kind == "blank" else "mistake")


def test_a_reversal_cannot_be_reversed(item, main):
    back = ledger.reverse(stock(item, main, 3).entry, by=MARTA, reason="never came").entry
    with pytest.raises(ledger.LedgerRefusal, match="movement_is_a_reversal"):
        ledger.reverse(back, by=MARTA, reason="it came")


def test_balances_of_the_past_can_be_read(item, main, north):
    first = stock(item, main, 3).entry
    other = stock(item, north, 7).entry
    last = movements.issue(item, main, 1, by=MARTA).entry
    seen = [ledger.balance_at(item, main, "new", pk) for pk in (first.pk - 1, first.pk, other.pk, last.pk)]
    assert seen == [0, 3, 3, 2]


def test_one_issue_costs_a_fixed_number_of_queries(item, main, django_assert_max_num_queries):
    stock(item, main, 50)
    for n in range(20):
        movements.issue(item, main, 1, by=MARTA, reference=f"I-{n}")
    with django_assert_max_num_queries(13):
        movements.issue(item, main, 1, by=MARTA, work_order="WO-1", reference="I-20")


def test_a_refused_movement_among_many_leaves_what_it_wanted_to_override(main):
    StockingTermsFactory(chain_joints=1)
    chain = ChainItemFactory()
    stock(chain, main, 20, pieces=[10, 10])
    hold = ledger.reserve(chain, main, 15, work_order="WO-1", by=MARTA)
    details = {"kind": "issue", "item": chain, "storeroom": main, "by": MARTA, "work_order": "WO-2"}
    too_long = ledger.Movement(**details, quantity=12, override="the kiln stands")
    outcomes = ledger.book_many([too_long, ledger.Movement(**details, quantity=5)])
    assert [type(outcome).__name__ for outcome in outcomes] == ["PiecesTooShort", "Booked"]
    hold.refresh_from_db()
    assert (hold.open_quantity, hold.short_quantity, hold.taken_by) == (15, 0, "")
    assert ledger.replay() == ()


def test_a_transfer_sent_again_into_another_condition_is_not_the_same(item, main):
    stock(item, main, 2)
    moved = {"by": "Marta", "reference": "MV-77", "to_condition": "used_serviceable"}
    movements.transfer(item, main, main, 1, **moved)
    assert movements.transfer(item, main, main, 1, **moved).balance_after == 1
    with pytest.raises(ledger.AlreadyBooked) as refused:
        movements.transfer(item, main, main, 1, **moved | {"to_condition": "on_hold"})
    assert refused.value.differs == "to_condition"

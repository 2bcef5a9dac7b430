from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from drives.demand.demand_events import load_demand_events
from drives.duplicates.doubts import MergeRefused
from drives.duplicates.merging import merge
from drives.duplicates.undoing import undo
from drives.service_record.pieces_out import reverse_movement
from drives.service_record.requests import record_request
from inventory.models import (
    CountTask,
    Item,
    Merge,
    MergeLine,
    Recommendation,
    Reservation,
    StockEntry,
    StockLevel,
    StockPiece,
    StockPolicy,
    SupplyOrder,
)
from inventory.stores import ledger
from inventory.stores.counting.count_requests import request_count
from inventory.stores.ledger.verify import verify
from tests import factories as make
from tests import movements
from tests.drives.duplicates.merged_plant import MARTA, balances, busy_twins, everything, twins

pytestmark = pytest.mark.django_db
INES = {"by": "Ines Okafor", "reason": "one part under two numbers"}


def on_hand(item: Item) -> int:
    return sum(StockLevel.objects.of_item(item).values_list("on_hand", flat=True))


@pytest.mark.parametrize("seed", range(12))
def test_after_merge_and_undo_everything_is_as_before(seed: int):
    item, into = busy_twins(seed)
    before, pieces = everything(), balances()
    made = merge(item, into, **INES)
    assert verify() == ()
    assert balances() == pieces
    assert not StockLevel.objects.of_item(item).not_empty().exists()
    assert not Reservation.objects.open().filter(item=item).exists()
    assert not StockPolicy.objects.filter(item=item).exists()
    undo(made, by="Ines Okafor", reason="not the same after all")
    assert everything() == before
    assert verify() == ()
    assert balances() == pieces


@pytest.mark.parametrize("seed", range(3))
def test_merged_undone_and_merged_again_ends_as_merged_once(seed: int):
    item, into = busy_twins(seed)
    undo(merge(item, into, **INES), by="Ines Okafor", reason="too early")
    before = everything()
    made = merge(item, into, **INES)
    undo(made, by="Ines Okafor", reason="too early again")
    assert everything() == before
    assert verify() == ()


def test_history_stays_readable_under_both_numbers():
    item, into = twins()
    main = make.StoreroomFactory()
    make.stock(item, main, 3)
    movements.issue(item, main, 1, by=MARTA, work_order="WO-1")
    merge(item, into, **INES)
    booked = StockEntry.objects.of_item(item).order_by("pk").values_list("kind", "change", "balance_after")
    assert list(booked) == [("receipt", 3, 3), ("issue", -1, 2), ("transfer", -2, 0)]
    arrived = StockEntry.objects.get(item=into)
    assert (arrived.kind, arrived.change, arrived.balance_after) == ("transfer", 2, 2)
    assert "OLD-1 merged into NEW-1" in arrived.reason


def test_the_old_number_is_blocked_and_leads_to_the_one_that_stays():
    item, into = twins()
    merge(item, into, **INES)
    item.refresh_from_db()
    assert (item.lifecycle, item.replaced_by, item.merged_into) == ("blocked", into, into)


def test_levels_of_both_policies_are_added_up():
    item, into = twins()
    main = make.StoreroomFactory()
    StockPolicy.objects.create(item=item, storeroom=main, reorder_point=1, order_up_to=2)
    StockPolicy.objects.create(item=into, storeroom=main, reorder_point=2, order_up_to=5)
    merge(item, into, **INES)
    policy = StockPolicy.objects.get()
    assert (policy.item, policy.reorder_point, policy.order_up_to) == (into, 3, 7)


def test_not_stocked_adds_nothing():
    item, into = twins()
    main = make.StoreroomFactory()
    StockPolicy.objects.create(item=item, storeroom=main, stocked=False, reorder_point=-1, order_up_to=0)
    StockPolicy.objects.create(item=into, storeroom=main, reorder_point=2, order_up_to=5)
    merge(item, into, **INES)
    assert StockPolicy.objects.filter(reorder_point=2, order_up_to=5, stocked=True).count() == 1


def test_an_open_order_comes_in_under_the_number_that_stays():
    item, into = twins()
    main = make.StoreroomFactory()
    opened, done = make.SupplyOrderFactory(item=item), make.SupplyOrderFactory(item=item, status="cancelled")
    merge(item, into, **INES)
    assert SupplyOrder.objects.get(pk=opened.pk).item == into
    assert SupplyOrder.objects.get(pk=done.pk).item == item
    assert main is not None


def test_one_shelf_is_counted_once():
    item, into = twins()
    main = make.StoreroomFactory()
    for one in (item, into):
        request_count(one, main, "new", cause="asked", at=make.MORNING)
    merge(item, into, **INES)
    assert CountTask.objects.open().get().item == into


def test_outdated_recommendations_wait_for_no_decision():
    item, into = twins()
    make.RecommendationFactory(item=item)
    merge(item, into, **INES)
    assert not Recommendation.objects.current().exists()


def test_a_number_merged_into_the_old_one_leads_on():
    item, into = twins()
    first = make.ItemFactory(stock_number="OLDEST", specification=item.specification)
    merge(first, item, **INES)
    second = merge(item, into, **INES)
    assert Item.objects.get(pk=first.pk).merged_into == into
    undo(second, by="Ines Okafor", reason="wrong one")
    assert Item.objects.get(pk=first.pk).merged_into == item


def nothing_changed(act: Callable[[], Any]) -> MergeRefused:
    before = everything()
    with pytest.raises(MergeRefused) as refused, transaction.atomic():
        act()
    assert everything() == before
    assert not Merge.objects.exists()
    assert not MergeLine.objects.exists()
    return refused.value


def test_an_item_is_not_merged_with_itself():
    item, _ = twins()
    refused = nothing_changed(lambda: merge(item, item, **INES))
    assert (refused.field, refused.fact.code) == ("into", "merge_with_itself")


def test_another_unit_of_issue_is_refused():
    item = make.ChainItemFactory()
    into = make.ItemFactory(specification=item.specification)
    make.stock(item, make.StoreroomFactory(), 5)
    refused = nothing_changed(lambda: merge(item, into, **INES))
    assert (refused.field, refused.fact.code) == ("unit", "merge_of_other_unit")


def test_another_kind_is_refused():
    item, into = make.ItemFactory(), make.BushItemFactory()
    refused = nothing_changed(lambda: merge(item, into, **INES))
    assert (refused.field, refused.fact.code) == ("kind", "merge_of_other_kind")


def test_what_takes_work_is_another_part():
    item, into = make.ItemFactory(), make.ItemFactory(specification=make.PilotBoredFactory())
    refused = nothing_changed(lambda: merge(item, into, **INES))
    assert (refused.field, refused.fact.code) == ("specification", "merge_of_other_part")


@pytest.mark.parametrize("held", [0, 1])
def test_stock_on_hold_is_settled_first(held: int):
    pair = twins()
    make.stock(pair[held], make.StoreroomFactory(), 2, condition="on_hold")
    refused = nothing_changed(lambda: merge(*pair, **INES))
    assert (refused.field, refused.fact.code) == ("condition", "merge_of_item_on_hold")
    assert refused.fact.values["quantity"] == 2


def test_a_number_is_merged_once():
    item, into = twins()
    third = make.ItemFactory(specification=item.specification)
    merge(item, into, **INES)
    for pair, field in (((item, third), "item"), ((third, item), "into")):
        fresh = [Item.objects.get(pk=one.pk) for one in pair]
        with pytest.raises(MergeRefused) as refused:
            merge(*fresh, **INES)
        assert (refused.value.field, refused.value.fact.code) == (field, "number_merged")


def test_a_number_that_is_no_longer_bought_does_not_stay():
    item, into = twins()
    Item.objects.filter(pk=into.pk).update(lifecycle="run_down")
    refused = nothing_changed(lambda: merge(item, into, **INES))
    assert (refused.field, refused.fact.code) == ("lifecycle", "merge_into_ended_item")


def test_the_successor_stays_not_the_predecessor():
    item, into = twins()
    Item.objects.filter(pk=into.pk).update(replaced_by=item)
    refused = nothing_changed(lambda: merge(item, into, **INES))
    assert (refused.field, refused.fact.code) == ("replaced_by", "merge_into_replaced_item")


def test_a_reason_is_given():
    refused = nothing_changed(lambda: merge(*twins(), by="Ines Okafor", reason=" "))
    assert (refused.field, refused.fact.code) == ("reason", "merge_reason_missing")


def near_twins() -> tuple[Item, Item]:
    """Of the second nobody recorded the material."""
    item, _ = twins()
    return item, make.ItemFactory(stock_number="NEW-2", specification=make.SprocketFactory(material=""))


def test_near_equal_items_need_an_engineer():
    pair = near_twins()
    refused = nothing_changed(lambda: merge(*pair, **INES))
    assert (refused.field, refused.fact.code) == ("approved_by", "merge_needs_engineer")
    (doubt,) = refused.fact.values["doubts"]
    assert (doubt.values["required"], doubt.values["grade"]) == ("OLD-1", "needs_review")


def test_the_engineer_is_not_the_one_who_merges():
    pair = near_twins()
    said = {"approved_by": "ines  okafor", "approval_reason": "measured both"}
    refused = nothing_changed(lambda: merge(*pair, **INES, **said))
    assert (refused.field, refused.fact.code) == ("approved_by", "approver_is_requester")


def test_with_the_engineers_yes_near_equal_items_are_merged():
    said = {"approved_by": "Tomasz Wilk", "approval_reason": "measured both"}
    made = merge(*near_twins(), **INES, **said)
    assert made.needs_approval
    assert made.doubts[0]["code"] == "not_alike"


def test_an_item_without_a_specification_needs_an_engineer():
    item, into = twins()
    Item.objects.filter(pk=item.pk).update(specification=None)
    refused = nothing_changed(lambda: merge(Item.objects.get(pk=item.pk), into, **INES))
    assert refused.fact.values["doubts"][0].code == "merge_of_unread_item"


def test_a_lifting_drive_needs_an_engineer():
    item, into = twins()
    drive = make.DriveFactory(lifting=True)
    make.InstallationFactory(item=item, position=make.PositionFactory(drive=drive))
    refused = nothing_changed(lambda: merge(item, into, **INES))
    assert "merge_on_lifting_drive" in [one.code for one in refused.fact.values["doubts"]]


def test_plants_with_different_rules_need_an_engineer():
    item, into = twins()
    for code, rule, one in (("WEIR", "not_needed", item), ("MILL", "before_fitting", into)):
        room = make.StoreroomFactory(code=code)
        make.PlantFactory(code=code, storeroom=room, substitute_approval=rule)
        make.stock(one, room, 1)
    refused = nothing_changed(lambda: merge(item, into, **INES))
    (doubt,) = refused.fact.values["doubts"]
    assert doubt.code == "plants_differ"


def test_a_merge_with_stock_issued_since_is_not_undone():
    item, into = twins()
    main = make.StoreroomFactory()
    make.stock(item, main, 3)
    made = merge(item, into, **INES)
    movements.issue(into, main, 1, by=MARTA, work_order="WO-9")
    before = everything()
    with pytest.raises(MergeRefused) as refused:
        undo(made, by="Ines Okafor", reason="wrong")
    (obstacle,) = refused.value.fact.values["obstacles"]
    assert obstacle.code == "merged_stock_gone"
    assert {name: obstacle.values[name] for name in ("moved", "available", "storeroom")} == {
        "moved": 3,
        "available": 2,
        "storeroom": main.code,
    }
    assert everything() == before
    assert Merge.objects.get().state == "merged"


def test_a_cut_piece_of_chain_is_not_put_back():
    part = make.ChainFactory()
    item, into = (make.ChainItemFactory(specification=part) for _ in range(2))
    main = make.StoreroomFactory()
    make.stock(item, main, 100)
    make.stock(into, main, 300)
    made = merge(item, into, **INES)
    movements.issue(into, main, 20, by=MARTA, work_order="WO-9")
    with pytest.raises(MergeRefused):
        undo(made, by="Ines Okafor", reason="wrong")


@pytest.mark.parametrize("has_other", [False, True])
def test_a_policy_set_since_stays_and_the_old_number_has_its_own_again(has_other: bool):
    item, into = twins()
    main = make.StoreroomFactory()
    StockPolicy.objects.create(item=item, storeroom=main, reorder_point=1, order_up_to=2)
    if has_other:
        StockPolicy.objects.create(item=into, storeroom=main, reorder_point=1, order_up_to=4)
    made = merge(item, into, **INES)
    StockPolicy.objects.update(reorder_point=0, order_up_to=7)
    done = undo(made, by="Ines Okafor", reason="wrong")
    assert [one["code"] for one in done.left_with] == ["policy_set_since"]
    levels = StockPolicy.objects.values_list("item__stock_number", "reorder_point", "order_up_to")
    assert sorted(levels) == [("NEW-1", 0, 7), ("OLD-1", 1, 2)]


def test_an_issue_of_a_merged_number_is_reversed_to_the_one_that_stays():
    item, into = twins()
    main = make.StoreroomFactory()
    make.stock(item, main, 3)
    mistake = movements.issue(item, main, 2, by=MARTA, work_order="WO-1").entry
    made = merge(item, into, **INES)
    back = reverse_movement(mistake, by=MARTA, reason="wrong shelf", quantity=1)
    assert (back.entry.item, back.entry.change, back.entry.reverses) == (into, 1, mistake)
    assert (on_hand(item), on_hand(into), back.balance_after) == (0, 2, 2)
    assert list(StockEntry.objects.of_item(item).values_list("change", flat=True).order_by("pk")) == [
        3,
        -2,
        -1,
    ]
    assert verify() == ()
    done = undo(made, by="Ines Okafor", reason="wrong")
    assert [(one["code"], one["values"]["change"]) for one in done.left_with] == [("reversed_since", 1)]
    reverse_movement(mistake, by=MARTA, reason="wrong shelf")
    assert (on_hand(item), on_hand(into)) == (2, 1)
    assert verify() == ()


def test_a_receipt_of_a_merged_number_is_reversed_from_the_stock_and_the_piece_that_went_on():
    part = make.ChainFactory()
    item, into, last = (make.ChainItemFactory(specification=part) for _ in range(3))
    main = make.StoreroomFactory()
    mistake = make.stock(item, main, 100).entry
    make.stock(into, main, 300)
    for one, other in ((item, into), (into, last)):
        merge(one, other, **INES)
    back = ledger.reverse(mistake, by=MARTA, reason="never came")
    assert (back.entry.item, back.entry.piece.level.item, back.balance_after) == (last, last, 300)
    assert StockPiece.objects.filter(links__gt=0).get().links == 300
    assert verify() == ()


def test_a_reservation_used_since_stays_and_is_named():
    item, into = twins()
    main = make.StoreroomFactory()
    make.stock(item, main, 1)
    make.stock(into, main, 3)
    ledger.reserve(item, main, 1, work_order="WO-7", by=MARTA)
    made = merge(item, into, **INES)
    movements.issue(into, main, 1, by=MARTA, work_order="WO-7")
    done = undo(made, by="Ines Okafor", reason="wrong")
    assert [one["code"] for one in done.left_with] == ["reservation_ended_since"]
    assert (on_hand(item), on_hand(into)) == (1, 2)
    assert verify() == ()


def test_it_is_undone_once():
    made = merge(*twins(), **INES)
    undo(made, by="Ines Okafor", reason="wrong")
    with pytest.raises(MergeRefused) as refused:
        undo(made, by="Ines Okafor", reason="wrong")
    assert refused.value.fact.code == "merge_undone_already"


def test_nothing_is_booked_under_a_merged_number():
    item, into = twins()
    main, north = make.StoreroomFactory(), make.StoreroomFactory(code="NORTH")
    make.stock(item, main, 3)
    merge(item, into, **INES)
    acts = [
        lambda: movements.receive(item, main, 1, by=MARTA),
        lambda: movements.receive(item, north, 1, by=MARTA),
        lambda: movements.issue(item, main, 1, by=MARTA),
        lambda: movements.count(item, main, 4, by=MARTA),
        lambda: ledger.reserve(item, main, 1, work_order="WO-1", by=MARTA),
    ]
    for act in acts:
        with pytest.raises(ledger.NumberMerged) as refused:
            act()
        assert refused.value.fact.values == {"item": "OLD-1", "into": "NEW-1"}
    assert StockLevel.objects.of_item(item).count() == 1


def test_the_movements_of_a_merge_are_not_reversed_by_hand():
    item, into = twins()
    make.stock(item, make.StoreroomFactory(), 3)
    merge(item, into, **INES)
    for entry in StockEntry.objects.filter(kind="transfer"):
        with pytest.raises(ledger.NotReversible) as refused:
            ledger.reverse(entry, by=MARTA, reason="typing error")
        assert refused.value.fact.code == "movement_of_merge"


def test_the_database_keeps_a_closed_shelf_empty():
    level = make.StockLevelFactory(is_closed=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        StockLevel.objects.filter(pk=level.pk).update(on_hand=1)


def test_demand_of_both_numbers_is_one_and_each_need_counts_once():
    item, into = twins()
    main = make.StoreroomFactory()
    for one in (item, into):
        make.stock(one, main, 5)
        record_request(
            at=timezone.now(), item=one, storeroom=main, work_order="WO-1", result="filled", issued_item=one
        )
        movements.issue(one, main, 1, by=MARTA, work_order="WO-1")
    movements.issue(item, main, 1, by=MARTA, work_order="WO-2")
    made = merge(item, into, **INES)
    demand = load_demand_events(timezone.now())
    assert sorted((one.item_id, one.quantity, one.work_order) for one in demand) == [
        (into.pk, 1, "WO-1"),
        (into.pk, 1, "WO-1"),
        (into.pk, 1, "WO-2"),
    ]
    undo(made, by="Ines Okafor", reason="wrong")
    assert {one.item_id for one in load_demand_events(timezone.now())} == {item.pk, into.pk}

"""Merges that meet each other and the counter; every race ends as if they had come one after another."""

from collections.abc import Callable
from typing import Any

import pytest

from drives.duplicates.merging import merge
from drives.duplicates.undoing import undo
from inventory.models import Item, Merge, StockEntry, StockLevel
from inventory.stores import ledger
from inventory.stores.ledger.verify import verify
from tests import factories as make
from tests import movements
from tests.drives.duplicates.merged_plant import MARTA, twins
from tests.races import TAKERS, outcomes

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


def merging(item: Item, into: Item) -> Callable[[], Any]:
    return lambda: merge(item, into, by="Ines Okafor", reason="one part")


def test_of_many_merges_of_one_number_one_is_carried_out():
    item, into = twins()
    make.stock(item, make.StoreroomFactory(), 5)
    assert outcomes([merging(item, into)] * TAKERS) == {"booked": 1, "MergeRefused": TAKERS - 1}
    assert verify() == ()
    assert Merge.objects.count() == 1


def test_two_numbers_merged_into_each_other_leave_one():
    item, into = twins()
    for one in (item, into):
        make.stock(one, make.StoreroomFactory(), 5)
    found = outcomes([merging(item, into), merging(into, item)] * (TAKERS // 2))
    assert found == {"booked": 1, "MergeRefused": TAKERS - 1}
    assert verify() == ()


@pytest.mark.parametrize("seed", range(3))
def test_what_is_issued_during_a_merge_is_issued_once_and_nothing_is_lost(seed: int):
    item, into = twins()
    main = make.StoreroomFactory()
    make.stock(item, main, 40)
    make.stock(into, main, 10)
    issues = [lambda: movements.issue(item, main, 1, by=MARTA)] * 24
    acts = [*issues[: seed * 8], merging(item, into), *issues[seed * 8 :]]
    found = outcomes(acts)
    taken = StockEntry.objects.issues().count()
    assert found["booked"] == taken + 1
    assert found["NumberMerged"] == 24 - taken
    assert list(StockLevel.objects.of_item(item).values_list("on_hand", "is_closed")) == [(0, True)]
    assert StockLevel.objects.get(item=into).on_hand == 50 - taken
    assert verify() == ()


def test_what_is_received_in_new_storerooms_during_a_merge_lies_under_one_number():
    item, into = twins()
    rooms = [make.StoreroomFactory(code=f"ROOM{n}") for n in range(16)]
    acts: list[Callable[[], Any]] = [
        lambda room=room: movements.receive(item, room, 1, by=MARTA)
        for room in rooms  # type: ignore[misc]
    ]
    found = outcomes([*acts[:8], merging(item, into), *acts[8:]])
    assert found["booked"] + found["NumberMerged"] == 17
    assert not StockLevel.objects.of_item(item).not_empty().exists()
    received = StockEntry.objects.filter(kind="receipt").count()
    assert sum(StockLevel.objects.of_item(into).values_list("on_hand", flat=True)) == received
    assert verify() == ()


def test_reservations_during_a_merge_end_under_one_number():
    item, into = twins()
    main = make.StoreroomFactory()
    make.stock(item, main, 40)
    acts: list[Callable[[], Any]] = [
        lambda n=n: ledger.reserve(item, main, 1, work_order=f"WO-{n}", by=MARTA)
        for n in range(16)  # type: ignore[misc]
    ]
    outcomes([*acts[:8], merging(item, into), *acts[8:]])
    level = StockLevel.objects.get(item=into)
    assert (level.on_hand, level.reserved) == (40, into.reservations.open().count())
    assert not item.reservations.open().exists()
    assert verify() == ()


def test_of_an_undo_and_issues_each_ends_whole():
    item, into = twins()
    main = make.StoreroomFactory()
    make.stock(item, main, 4)
    made = merge(item, into, by="Ines Okafor", reason="one part")
    acts: list[Callable[[], Any]] = [lambda: movements.issue(into, main, 1, by=MARTA)] * 7
    found = outcomes([lambda: undo(made, by="Ines Okafor", reason="wrong"), *acts])
    state = Merge.objects.get().state
    assert found["MergeRefused"] == (state == "merged")
    assert StockEntry.objects.issues().count() == (4 if state == "merged" else 0)
    assert verify() == ()

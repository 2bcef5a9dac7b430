from dataclasses import replace

import pytest

from inventory.models import Event, Item, StockLevel, Storeroom
from inventory.stores import ledger
from inventory.stores.ledger import Movement
from tests.benchmarks.load import Act, Outcome, Stores, acts_of, differences, stocked
from tests.examples import IS_LONG
from tests.proof.conftest import Prepared
from tests.proof.service import program

STORES = Stores("L1")


@pytest.mark.skipif(not IS_LONG, reason="PROOF=long runs the load test too")
def test_the_load_test_ends_with_a_summary_and_without_a_fault(prepared: Prepared) -> None:
    words = ("--transactions", "320", "--dropped", "0.2", "--seconds", "120")
    done = program(prepared.copy("load"), "-m", "tests.benchmarks.load", *words)
    lines = done.stdout.splitlines()
    assert (done.returncode, lines[-1]) == (0, "0 faults"), done.stdout
    assert lines[0].startswith("320 transactions in ")


@pytest.mark.skipif(not IS_LONG, reason="PROOF=long runs the load test too")
def test_the_load_test_ends_where_time_is_up(prepared: Prepared) -> None:
    words = ("--transactions", "5000", "--seconds", "0.5")
    done = program(prepared.copy("short"), "-m", "tests.benchmarks.load", *words)
    assert done.returncode == 1
    assert "no answer" in done.stdout


def test_acts_have_keys_of_their_own_and_go_to_and_fro() -> None:
    acts = acts_of(STORES, 500)
    assert len({act.key for act in acts}) == 500
    assert {(act.room, act.to) for act in acts if act.to} == {STORES.rooms, STORES.rooms[::-1]}
    assert 60 < sum(act.item == STORES.hot for act in acts) < 140


@pytest.fixture
def outcomes(db: None) -> list[Outcome]:
    """Two pieces of three requests from the shelf that has too little, and one from another."""
    stocked(STORES, 2)
    here = STORES.rooms[0]
    acts = [Act(f"k-{n}", name, here) for n, name in enumerate([STORES.hot] * 3 + STORES.wide[:1])]
    found = []
    for act in acts:
        item = Item.objects.get(stock_number=act.item)
        room = Storeroom.objects.get(code=act.room)
        try:
            pk = ledger.book(Movement(kind="issue", item=item, storeroom=room, by="x", quantity=1)).entry.pk
        except ledger.StockShort:
            pk = None
        found.append(Outcome(act, 201 if pk else 409, pk, 0.1, was_dropped=False))
    return found


def faults(outcomes: list[Outcome]) -> str:
    return "; ".join(differences(STORES, outcomes, 2))


def test_books_that_agree_have_no_difference(outcomes: list[Outcome]) -> None:
    assert faults(outcomes) == ""


def test_what_is_lost_or_doubled_is_named(outcomes: list[Outcome]) -> None:
    *rest, last = outcomes
    assert "1 movements are in the ledger and were not answered" in faults(
        [*rest, replace(last, movement=None)]
    )
    assert "1 movements were answered and are not in the ledger" in faults(
        [*rest, replace(last, movement=10**9)]
    )
    assert "1 keys were answered with the movement of another" in faults([*outcomes, last])


def test_a_balance_and_an_event_that_are_not_right_are_named(outcomes: list[Outcome]) -> None:
    StockLevel.objects.filter(item__stock_number=STORES.wide[0]).update(on_hand=7)
    Event.objects.filter(aggregate__startswith=f"stock/{STORES.hot}").last().delete()  # type: ignore[union-attr]
    found = faults(outcomes)
    assert f"{STORES.wide[0]}: 7 on hand, 1000000 came in and 1 went out" in found
    assert "on_hand_differs" in found
    assert "events of" in found

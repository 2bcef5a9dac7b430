"""The ledger against a plain dictionary, and thousands at once against one by one."""

import random
from collections import Counter
from dataclasses import replace
from typing import Any

import pytest
from django.db import transaction

from inventory.facts import fact
from inventory.models import Reservation, StockEntry, StockLevel, StockPiece
from inventory.stores import ledger
from inventory.stores.ledger import Booked, LedgerRefusal, Movement
from tests import movements
from tests.factories import MORNING, ChainItemFactory, ItemFactory, StoreroomFactory, stock

pytestmark = pytest.mark.django_db
MARTA = "Marta Keller"
WORK_ORDERS = ("", "WO-1", "WO-2")


@pytest.fixture
def places():
    items = [ItemFactory(stock_number=f"SPR-{n}") for n in (1, 2)]
    return items, [StoreroomFactory(code=code) for code in ("MAIN", "NORTH")]


class PlainBook:
    """What the ledger is to do, in dictionaries: place to quantity, and who has reserved how much of it."""

    def __init__(self) -> None:
        self.on_hand: Counter[Any] = Counter()
        self.held: dict[Any, Counter[str]] = {}

    def reserved(self, place: Any) -> int:
        return sum(self.held.get(place, {}).values())

    def take(self, place: Any, quantity: int, work_order: str = "") -> bool:
        held = self.held.setdefault(place, Counter())
        own = held[work_order] if work_order else 0
        if quantity > self.on_hand[place] - self.reserved(place) + own:
            return False
        self.on_hand[place] -= quantity
        if work_order:
            held[work_order] -= min(own, quantity)
        return True

    def hold(self, place: Any, quantity: int, work_order: str) -> bool:
        if quantity > self.on_hand[place] - self.reserved(place):
            return False
        self.held.setdefault(place, Counter())[work_order] += quantity
        return True

    def count(self, place: Any, counted: int) -> bool:
        if counted < self.reserved(place):
            return False
        self.on_hand[place] = counted
        return True


def was_booked(call: Any, *args: Any, **kwargs: Any) -> bool:
    try:
        call(*args, by=MARTA, **kwargs)
    except LedgerRefusal:
        return False
    return True


def one_step(dice: random.Random, plain: PlainBook, items: list[Any], rooms: list[Any]) -> tuple[bool, bool]:
    """The same step in both books; gives whether each of them booked it."""
    item, room, quantity = dice.choice(items), dice.choice(rooms), dice.randint(1, 6)
    place, work_order = (item.stock_number, room.code), dice.choice(WORK_ORDERS)
    kind = dice.choice(["receive", "issue", "issue", "scrap", "transfer", "count", "reserve", "release"])
    if kind == "receive":
        plain.on_hand[place] += quantity
        return True, was_booked(movements.receive, item, room, quantity)
    if kind == "issue":
        expected = plain.take(place, quantity, work_order)
        return expected, was_booked(movements.issue, item, room, quantity, work_order=work_order)
    if kind == "scrap":
        return plain.take(place, quantity), was_booked(movements.scrap, item, room, quantity)
    if kind == "transfer":
        other = next(other for other in rooms if other != room)
        expected = plain.take(place, quantity)
        plain.on_hand[item.stock_number, other.code] += quantity if expected else 0
        return expected, was_booked(movements.transfer, item, room, other, quantity)
    if kind == "count":
        return plain.count(place, quantity), was_booked(movements.count, item, room, quantity)
    if kind == "reserve":
        name = work_order or "WO-3"
        expected = plain.hold(place, quantity, name)
        return expected, was_booked(ledger.reserve, item, room, quantity, work_order=name)
    open_hold = Reservation.objects.open().filter(item=item, storeroom=room).order_by("pk").first()
    if open_hold is not None:
        plain.held[place][open_hold.work_order] -= open_hold.open_quantity
        ledger.release(open_hold)
    return True, True


def test_four_hundred_random_steps_come_out_as_in_a_plain_book(places):
    items, rooms = places
    dice, plain = random.Random(1), PlainBook()
    for step in range(400):
        expected, booked = one_step(dice, plain, items, rooms)
        assert booked == expected, step
    levels = {
        (level.item.stock_number, level.storeroom.code): (level.on_hand, level.reserved)
        for level in StockLevel.objects.with_places()
    }
    assert {place: numbers for place, numbers in levels.items() if any(numbers)} == {
        place: (plain.on_hand[place], plain.reserved(place))
        for place in plain.on_hand
        if plain.on_hand[place]
    }
    assert ledger.replay() == ()


def random_movements(seed: int, items: list[Any], rooms: list[Any], size: int) -> list[Movement]:
    dice = random.Random(seed)
    kinds = ["receipt", "receipt", "issue", "issue", "scrap", "return", "transfer", "count", "nonsense"]
    movements = []
    for n in range(size):
        kind, item = dice.choice(kinds), dice.choice(items)
        room, other = dice.sample(rooms, 2)
        movements.append(
            Movement(
                kind=kind,
                item=item,
                storeroom=room,
                by=MARTA,
                quantity=None if kind == "count" else dice.randint(0, 9),
                counted=dice.randint(0, 9) if kind == "count" else None,
                to_storeroom=other if kind == "transfer" else None,
                work_order=dice.choice(WORK_ORDERS) if kind == "issue" else "",
                join_pieces=dice.random() < 0.5,
                reference=f"M-{dice.randint(0, 30)}" if dice.random() < 0.3 else f"N-{n}",
                occurred_at=MORNING,
            )
        )
    return movements


def one_by_one(movements: list[Movement]) -> list[str]:
    outcomes = []
    for movement in movements:
        (outcome,) = ledger.book_many([movement])
        outcomes.append(described(outcome))
    return outcomes


def described(outcome: Booked | LedgerRefusal) -> str:
    if isinstance(outcome, Booked):
        return f"{outcome.is_replay} {outcome.on_hand} {outcome.reserved} {len(outcome.entries)}"
    return f"{type(outcome).__name__} {outcome.field}: {outcome.fact}"


def whole_state() -> dict[str, list[Any]]:
    place = ("item__stock_number", "storeroom__code", "condition")
    level = ("level__item__stock_number", "level__storeroom__code")
    return {
        "levels": list(StockLevel.objects.order_by(*place).values_list(*place, "on_hand", "reserved")),
        "pieces": list(StockPiece.objects.order_by(*level, "links").values_list(*level, "links")),
        "holds": list(Reservation.objects.order_by("pk").values_list("work_order", "open_quantity", "state")),
        "entries": list(
            StockEntry.objects.order_by("pk").values_list(
                *place,
                "kind",
                "change",
                "balance_after",
                "counted",
                "reference",
                "work_order",
                "piece__links",
            )
        ),
    }


def rehearsed(act: Any) -> tuple[Any, dict[str, list[Any]]]:
    """What the act gives and leaves, taken back afterwards."""
    with transaction.atomic():
        result, state = act(), whole_state()
        transaction.set_rollback(True)
    return result, state


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_many_at_once_come_out_exactly_as_one_by_one(places, seed):
    items, rooms = places
    items = [*items, ChainItemFactory(stock_number="CHN-1")]
    for item in items:
        stock(item, rooms[0], 6)
        ledger.reserve(item, rooms[0], 3, work_order="WO-1", by=MARTA)
    movements = random_movements(seed, items, rooms, 250)
    singly, state_singly = rehearsed(lambda: one_by_one(movements))
    together, state_together = rehearsed(lambda: [described(o) for o in ledger.book_many(movements)])
    assert together == singly
    assert state_together == state_singly
    assert len({word.split()[0] for word in together}) > 3


def test_a_batch_names_its_refusals_and_books_the_rest(places):
    (item, _), (main, _) = places
    receipt = Movement(kind="receipt", item=item, storeroom=main, by=MARTA, quantity=2)
    too_much = replace(receipt, kind="issue", quantity=5)
    first, refused, last = ledger.book_many([receipt, too_much, replace(receipt, kind="issue", quantity=1)])
    assert isinstance(refused, ledger.LedgerRefusal)
    assert refused.field == "quantity"
    assert (first.balance_after, last.balance_after) == (2, 1)
    assert first.entry.pk
    assert last.entry.pk


def test_a_batch_costs_few_queries(places, django_assert_max_num_queries):
    items, rooms = places
    movements = [m for m in random_movements(5, items, rooms, 300) if m.kind == "receipt"] * 3
    with django_assert_max_num_queries(40):
        ledger.book_many(movements)


def test_replay_finds_nothing_where_all_is_well(places):
    (item, _), (main, north) = places
    stock(item, main, 5)
    movements.transfer(item, main, north, 2, by=MARTA)
    assert ledger.replay() == ledger.replay(item) == ()


def test_replay_names_each_number_that_does_not_follow(places):
    (item, _), (main, _) = places
    chain = ChainItemFactory(stock_number="CHN-9")
    stock(item, main, 5)
    stock(chain, main, 100)
    StockLevel.objects.filter(item=item).update(on_hand=6, reserved=1)
    StockPiece.objects.update(links=90)
    here = {"storeroom": "MAIN", "condition": "new"}
    assert ledger.replay() == (
        fact("on_hand_differs", item="SPR-1", booked=5, found=6, **here),
        fact("reserved_differs", item="SPR-1", booked=0, found=1, **here),
        fact("pieces_differ", item="CHN-9", booked=100, found=90, **here),
    )


def test_replay_finds_a_wrong_balance_and_a_lost_level(places):
    (item, other), (main, _) = places
    stock(item, main, 5)
    StockEntry.objects.create(
        kind="receipt", item=other, storeroom=main, change=2, balance_after=3, occurred_at=MORNING
    )
    lost, wrong = ledger.replay()
    assert (lost.code, lost.values["item"], lost.values["found"]) == ("on_hand_differs", "SPR-2", 0)
    assert (wrong.code, wrong.values["booked"], wrong.values["found"]) == ("balance_after_differs", 2, 3)

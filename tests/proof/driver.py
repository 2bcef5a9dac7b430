"""Plays steps against the service and the plain model side by side."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from inventory.models import Item, Reservation, StockEntry, Storeroom, Unit
from inventory.stores import ledger
from inventory.stores.ledger import Movement
from tests.factories import MORNING, ChainItemFactory, ItemFactory, StoreroomFactory
from tests.proof.deeds import MARTA, Deeds, TurnedDown
from tests.proof.invariants import check_against, check_permanence, check_rows, same
from tests.proof.plain_model import Place, PlainModel, Refused
from tests.proof.steps import Mismatch, Step, pick

HELD_FIRST = ("did_not_fit", "wrong_item", "defective")
CONDITIONS = ("new", "new", "new", "new", "used_serviceable", "on_hold")
ORDERS = tuple(f"WO-{number}" for number in range(1, 6))
RETURNED, SCRAPPED, COUNTED = (
    ("", "not_needed", "did_not_fit", "wrong_item", "defective", "surplus"),
    ("", "written_off", "defective", "surplus"),
    ("", "found", "not_there"),
)


class Driver:
    """`play` raises Mismatch at the first step after which the two are not the same."""

    def __init__(self, deeds: Deeds, check_every: int = 40) -> None:
        self.deeds = deeds
        sprockets = [ItemFactory(stock_number=number) for number in ("SPR-1", "SPR-2")]
        self.items: list[Item] = [*sprockets, ChainItemFactory(stock_number="CHN-1")]
        self.rooms: list[Storeroom] = [StoreroomFactory(code=code) for code in ("MAIN", "NORTH")]
        self.model = PlainModel()
        self.check_every = check_every
        self.pks: list[int] = []
        self.holds: list[int] = []
        self.sent: list[Movement] = []
        self.clock = 0
        self.number = 0
        self.words: dict[str, int] = {}

    @property
    def now(self) -> datetime:
        return MORNING + timedelta(minutes=self.clock)

    def play(self, steps: Sequence[Step]) -> None:
        for number, step in enumerate(steps, start=1):
            self.clock += 1
            self.number += 1
            self.deeds.now = self.now
            try:
                word = getattr(self, step.name)(*step.dice)
                self.words[word] = self.words.get(word, 0) + 1
                if number % self.check_every == 0 or number == len(steps):
                    self.check(step)
            except Mismatch as mismatch:
                raise Mismatch(f"at step {number}, {step}: {mismatch}", number) from mismatch

    def check(self, step: Step) -> None:
        check_rows()
        check_permanence()
        check_against(self.model, self.pks, step.dice)

    # The steps. Each gives the word for what happened.

    def receive(self, where: int, much: int, _: int, which: int) -> str:
        place, quantity = self.place(where), 1 + much % 10
        pieces = (
            {"pieces": [quantity - quantity // 2, quantity // 2]}
            if self.is_chain(place) and quantity > 3
            else {}
        )
        return self.move(
            "receipt", place, lambda: self.model.put("receipt", place, quantity), quantity=quantity, **pieces
        )

    def give_back(self, where: int, much: int, why: int, which: int) -> str:
        place, quantity = self.place(where), 1 + much % 4
        code = pick(RETURNED, why)
        if code in HELD_FIRST:
            place = (place[0], place[1], "on_hold")
        act = lambda: self.model.put("return", place, quantity)  # noqa: E731
        return self.move(
            "return", place, act, quantity=quantity, reason_code=code, work_order=pick(ORDERS, which)
        )

    def issue(self, where: int, much: int, _: int, which: int) -> str:
        return self.take("issue", where, much)

    def issue_for_order(self, where: int, much: int, order: int, which: int) -> str:
        return self.take("issue", where, much, work_order=pick(ORDERS, order))

    def lend(self, where: int, much: int, days: int, which: int) -> str:
        back_on = self.now.date() + timedelta(days=days % 30)
        return self.take("issue", where, much, expected_back_on=back_on)

    def override(self, where: int, much: int, order: int, which: int) -> str:
        return self.take("issue", where, much, work_order=pick(ORDERS, order), override="the elevator stands")

    def scrap(self, where: int, much: int, why: int, which: int) -> str:
        return self.take("scrap", where, much, reason_code=pick(SCRAPPED, why))

    def take(self, kind: str, where: int, much: int, **details: Any) -> str:
        place, quantity = self.place(where), 1 + much % 6
        order = details.get("work_order", "")
        act = lambda: self.model.take(kind, place, quantity, order, bool(details.get("override")))  # noqa: E731
        join = {"join_pieces": bool(much % 7)} if self.is_chain(place) else {}
        return self.move(kind, place, act, quantity=quantity, **details, **join)

    def transfer(self, where: int, much: int, to: int, which: int) -> str:
        place, quantity = self.place(where), 1 + much % 5
        room, condition = pick(self.rooms, to), pick(CONDITIONS, to // 7)
        target = (place[0], room.code, condition)
        act = lambda: self.model.move(place, target, quantity)  # noqa: E731
        join = {"join_pieces": bool(much % 7)} if self.is_chain(place) else {}
        return self.move(
            "transfer", place, act, quantity=quantity, to_storeroom=room, to_condition=condition, **join
        )

    def count(self, where: int, off: int, why: int, which: int) -> str:
        place = self.place(where)
        counted = max(0, self.model.on_hand[place] + off % 5 - 2)
        act = lambda: self.model.count(place, counted)  # noqa: E731
        return self.move("count", place, act, counted=counted, reason_code=pick(COUNTED, why))

    def count_seen(self, where: int, off: int, before: int, which: int) -> str:
        place = self.place(where)
        seen = max(0, self.model.on_hand[place] + before % 7 - 3)
        counted = max(0, seen + off % 5 - 2)
        act = lambda: self.model.count(place, counted, seen)  # noqa: E731
        return self.move("count", place, act, counted=counted, seen=seen)

    def not_there(self, where: int, *_: int) -> str:
        place = self.place(where)
        act = lambda: self.deeds.not_there(self.item(place), self.room(place), place[2])  # noqa: E731
        return self.both(place, act, lambda: self.model.count(place, 0, release_short=True))

    def found(self, where: int, more: int, much: int, order: int) -> str:
        """Count and issue in one: both or neither."""
        place, quantity, work_order = self.place(where), 1 + much % 4, pick(ORDERS, order)
        counted = self.model.on_hand[place] + 1 + more % 4
        join = {"join_pieces": True} if self.is_chain(place) else {}
        issue = self.movement("issue", place, quantity=quantity, work_order=work_order, **join)
        plain = lambda: self.model.found(place, counted, quantity, work_order)  # noqa: E731
        return self.both(place, lambda: self.deeds.found(issue, counted), plain)

    def reverse(self, which: int, *_: int) -> str:
        if not self.pks:
            return "nothing"
        # The young entries more often: those are the mistakes that get noticed.
        back = which % min(len(self.pks), 12 if which % 3 else len(self.pks))
        number = len(self.pks) - 1 - back
        taken_back = [entry.reverses for entry in self.model.entries if entry.reverses is not None]
        if taken_back and which % 5 == 0:
            number = pick(taken_back, which // 5)
        place = self.model.entries[number].place
        plain = lambda: self.model.reverse(number)  # noqa: E731
        return self.both(place, lambda: self.deeds.reverse(self.pks[number]), plain)

    def reserve(self, where: int, much: int, order: int, expires: int) -> str:
        place, quantity, work_order = self.place(where), 1 + much % 5, pick(ORDERS, order)
        minute = None if expires % 3 else self.clock + expires % 60
        ends = None if minute is None else MORNING + timedelta(minutes=minute)

        def real() -> None:
            self.deeds.reserve(self.item(place), self.room(place), quantity, work_order, place[2], ends)
            self.holds.append(Reservation.objects.latest("pk").pk)

        return self.both(
            place, real, lambda: self.model.hold(place, quantity, work_order, minute, self.clock)
        )

    def release(self, which: int, *_: int) -> str:
        if not self.holds:
            return "nothing"
        number = which % len(self.holds)
        place = self.model.holds[number].place
        plain = lambda: self.model.release(number)  # noqa: E731
        return self.both(place, lambda: self.deeds.release(self.holds[number]), plain)

    def expire(self, *_: int) -> str:
        ledger.expire_reservations(self.now)
        self.model.expire(self.clock)
        return "expired"

    def again(self, which: int, how: int, *_: int) -> str:
        """The same movement sent a second time is answered, and booked once."""
        if not self.sent:
            return "nothing"
        self.deeds.again(pick(self.sent, which), how)
        return "again"

    def another(self, which: int, how: int, *_: int) -> str:
        """Another movement under a reference that is taken is refused."""
        if not self.sent:
            return "nothing"
        first = pick(self.sent, which)
        other = replace(self.movement("receipt", self.place(which), quantity=77), reference=first.reference)
        self.deeds.another(first, replace(other, storeroom=first.storeroom), how)
        return "another"

    # Both sides of a step.

    def move(self, kind: str, place: Place, plain: Callable[[], None], **details: Any) -> str:
        movement = self.movement(kind, place, **details)
        word = self.both(place, lambda: self.deeds.book(movement), plain)
        if movement.reference and word == "booked":
            self.sent.append(movement)
        return word

    def both(self, place: Place, real: Callable[[], None], plain: Callable[[], None]) -> str:
        word = expected = "booked"
        try:
            real()
        except TurnedDown as turned_down:
            if turned_down.of_the_pieces:
                return "the pieces forbid it"
            word = turned_down.word
        try:
            plain()
        except Refused as refused:
            expected = self.deeds.seen(str(refused))
        same(f"the outcome at {place}", word, expected)
        newest = self.pks[-1] if self.pks else 0
        self.pks.extend(StockEntry.objects.filter(pk__gt=newest).order_by("pk").values_list("pk", flat=True))
        return word

    def movement(self, kind: str, place: Place, **details: Any) -> Movement:
        reference = "" if self.number % 4 else f"R-{self.number}"
        return Movement(
            kind=kind,
            item=self.item(place),
            storeroom=self.room(place),
            condition=place[2],
            by=MARTA,
            reference=reference,
            **details,
        )

    def place(self, dice: int) -> Place:
        item, room = pick(self.items, dice), pick(self.rooms, dice // 3)
        return item.stock_number, room.code, pick(CONDITIONS, dice // 11)

    def item(self, place: Place) -> Item:
        return next(item for item in self.items if item.stock_number == place[0])

    def room(self, place: Place) -> Storeroom:
        return next(room for room in self.rooms if room.code == place[1])

    def is_chain(self, place: Place) -> bool:
        return self.item(place).unit == Unit.LINK

"""What the ledger should do, in plain dictionaries: no database, no locks, no chain in pieces.

It is written apart from the ledger and short enough to be read in one go. Every deed either raises
`Refused` with the word for it and has done nothing, or does all it says.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

Place = tuple[str, str, str]
"""Stock number, storeroom, condition."""
AVAILABLE = ("new", "used_serviceable")


class Refused(Exception):  # noqa: N818 - reads as the refusal it is
    """The word is the name of the ledger's refusal."""


@dataclass
class Hold:
    place: Place
    work_order: str
    quantity: int
    open: int
    expires: int | None = None
    used: int = 0
    short: int = 0
    let_go: int = 0
    state: str = "open"

    def end(self, part: int, share: str, state: str) -> None:
        self.open -= part
        setattr(self, share, getattr(self, share) + part)
        self.state = self.state if self.open else state


@dataclass(frozen=True)
class Entry:
    kind: str
    place: Place
    change: int
    reverses: int | None = None
    way: int | None = None
    counted: bool = False


class PlainModel:
    def __init__(self) -> None:
        self.on_hand: dict[Place, int] = defaultdict(int)
        self.holds: list[Hold] = []
        self.entries: list[Entry] = []

    def reserved(self, place: Place) -> int:
        return sum(hold.open for hold in self.open_holds(place))

    def open_holds(self, place: Place) -> list[Hold]:
        return [hold for hold in self.holds if hold.place == place and hold.state == "open"]

    def balance_after(self, number: int, place: Place) -> int:
        return sum(entry.change for entry in self.entries[: number + 1] if entry.place == place)

    def put(self, kind: str, place: Place, quantity: int) -> None:
        self.write([Entry(kind, place, quantity)])

    def take(
        self, kind: str, place: Place, quantity: int, work_order: str = "", override: bool = False
    ) -> None:
        if kind == "issue" and place[2] not in AVAILABLE:
            raise Refused("LedgerRefusal")
        own = [hold for hold in self.open_holds(place) if work_order and hold.work_order == work_order]
        free = self.on_hand[place] - self.reserved(place) + sum(hold.open for hold in own)
        if override and free < quantity <= self.on_hand[place]:
            others = [hold for hold in self.open_holds(place) if hold not in own]
            self.shorten(others, quantity - free)
            free = quantity
        self.refuse_short(place, quantity, free)
        wanted = quantity
        for hold in own:
            part = min(wanted, hold.open)
            hold.end(part, "used", "used")
            wanted -= part
        self.write([Entry(kind, place, -quantity)])

    def move(self, place: Place, target: Place, quantity: int) -> None:
        if place == target:
            raise Refused("LedgerRefusal")
        self.refuse_short(place, quantity, self.on_hand[place] - self.reserved(place))
        way = len(self.entries)
        self.write(
            [Entry("transfer", place, -quantity, way=way), Entry("transfer", target, quantity, way=way)]
        )

    def count(self, place: Place, counted: int, seen: int | None = None, release_short: bool = False) -> None:
        change = counted - (self.on_hand[place] if seen is None else seen)
        after = self.on_hand[place] + change
        if after < 0:
            raise Refused("LedgerRefusal")
        kept = min(counted, self.reserved(place)) if release_short else self.reserved(place)
        if change < 0 and after < kept:
            raise Refused("ReservedForOthers")
        if release_short:
            self.shorten(self.open_holds(place), self.reserved(place) - counted)
        self.write([Entry("count", place, change, counted=True)])

    def found(self, place: Place, counted: int, quantity: int, work_order: str) -> None:
        if place[2] not in AVAILABLE:
            raise Refused("LedgerRefusal")
        entries, holds = len(self.entries), [replace(hold) for hold in self.holds]
        self.count(place, counted)
        try:
            self.take("issue", place, quantity, work_order)
        except Refused:
            for entry in self.entries[entries:]:
                self.on_hand[entry.place] -= entry.change
            del self.entries[entries:]
            self.holds = holds
            raise

    def reverse(self, number: int) -> None:
        entry = self.entries[number]
        if entry.reverses is not None or entry.change == 0:
            raise Refused("NotReversible")
        legs = [number]
        if entry.way is not None:
            legs = [entry.way + 1, entry.way]
        if any(other.reverses in legs for other in self.entries):
            raise Refused("AlreadyReversed")
        for leg in legs:
            back = self.entries[leg]
            free = self.on_hand[back.place] - self.reserved(back.place)
            self.refuse_short(back.place, max(back.change, 0), free)
        self.write([self.back(leg) for leg in legs])

    def back(self, number: int) -> Entry:
        entry = self.entries[number]
        return Entry(entry.kind, entry.place, -entry.change, reverses=number)

    def hold(self, place: Place, quantity: int, work_order: str, expires: int | None, now: int) -> None:
        if place[2] not in AVAILABLE or (expires is not None and expires <= now):
            raise Refused("LedgerRefusal")
        self.refuse_short(place, quantity, self.on_hand[place] - self.reserved(place))
        self.holds.append(Hold(place, work_order, quantity, quantity, expires))

    def release(self, number: int) -> None:
        hold = self.holds[number]
        if hold.state != "open":
            raise Refused("ReservationEnded")
        hold.end(hold.open, "let_go", "released")

    def expire(self, now: int) -> None:
        for hold in self.holds:
            if hold.state == "open" and hold.expires is not None and hold.expires <= now:
                hold.end(hold.open, "let_go", "expired")

    def shorten(self, holds: Iterable[Hold], quantity: int) -> None:
        for hold in reversed(list(holds)):
            part = max(0, min(quantity, hold.open))
            if part:
                hold.end(part, "short", "released")
                quantity -= part

    def refuse_short(self, place: Place, asked: int, free: int) -> None:
        if asked > free:
            raise Refused("ReservedForOthers" if asked <= self.on_hand[place] else "StockShort")

    def write(self, entries: list[Entry]) -> None:
        for entry in entries:
            self.on_hand[entry.place] += entry.change
        self.entries.extend(entries)

"""What the clients of the soak send: movements, reversals, counts with and without a task, orders and messages, the same for the same seed."""

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

ITEMS = tuple(f"SOAK-{number}" for number in range(6))
HOT, UNIT = "SOAK-HOT", "SOAK-UNIT"
ROOMS = ("MAIN", "NORTH")
PLENTY, HOT_PIECES = 10_000_000, 20
SOURCE = "soak"
FITTED = datetime(2022, 1, 10, 6, tzinfo=UTC)
STEP = timedelta(hours=2)
ORDERS_OF_A_CLIENT = 5
WEIGHTS = {
    "issue": 30,
    "hot": 5,
    "receipt": 18,
    "transfer": 14,
    "count": 10,
    "reverse": 6,
    "order": 8,
    "message": 9,
    "open_count": 5,
    "record_count": 6,
    "drop_count": 2,
}
TASK_ACTS = ("open_count", "record_count", "drop_count")
CREATED, DONE, REFUSED = 201, 200, 409


@dataclass
class Act:
    """One request. `effects` are the pieces that it moves where it takes effect, `lines` the rows of the ledger.

    `said` is what the answer has to say, `told` what it says.
    """

    name: str
    method: str
    path: str
    body: dict[str, Any]
    key: str = ""
    effects: list[tuple[str, str, int]] = field(default_factory=list)
    lines: int = 0
    statuses: tuple[int, ...] = (CREATED,)
    said: dict[str, Any] = field(default_factory=dict)
    status: int = 0
    told: dict[str, Any] = field(default_factory=dict)

    @property
    def is_done(self) -> bool:
        return self.status in (DONE, CREATED)

    @property
    def entry(self) -> int | None:
        """The line of the ledger that it wrote."""
        return self.told.get("movement" if self.name in TASK_ACTS else "id")


@dataclass(frozen=True)
class OpenCount:
    """A shelf that the client has put on the list. What its own held then it knows; on others all clients move pieces."""

    task: int
    item: str
    room: str
    looked_at: datetime
    held: int | None


def position_of(client: int) -> str:
    return f"SOAK-P{client}"


def own_item(client: int) -> str:
    """Only this client moves it."""
    return f"SOAK-OWN-{client}"


class Acts:
    """Of one client: what it reverses or counts is what it was told, so the acts are made one after the other."""

    def __init__(self, seed: int, client: int) -> None:
        self.client, self.chance = client, random.Random(f"{seed}-{client}")
        self.number = self.messages = self.orders = 0
        self.issued: list[Act] = []
        self.counts: list[OpenCount] = []
        self.own = own_item(client)
        self.held = dict.fromkeys(ROOMS, PLENTY)
        self.items = (*ITEMS, self.own)

    def make(self, count: int) -> Iterator[Act]:
        names, weights = list(WEIGHTS), list(WEIGHTS.values())
        for _ in range(count):
            self.number += 1
            name = self.chance.choices(names, weights)[0]
            if name == "reverse" and not self.issued:
                name = "issue"
            if name in ("record_count", "drop_count") and not self.counts:
                name = "open_count"
            act: Act = getattr(self, name)()
            yield act
            if act.is_done:
                self.learn(act)

    def learn(self, act: Act) -> None:
        if act.name == "issue":
            self.issued.append(act)
        if act.name == "open_count":
            item, room = act.body["item"], act.body["storeroom"]
            held = self.held[room] if item == self.own else None
            self.counts.append(OpenCount(act.told["id"], item, room, datetime.now(UTC), held))
        if act.name == "record_count":
            ((item, room, _),) = act.effects
            act.effects = [(item, room, act.told["variance"])]
        for item, room, change in act.effects:
            if item == self.own:
                self.held[room] += change

    def movement(self, name: str, lines: int, effects: list[tuple[str, str, int]], **body: Any) -> Act:
        key = f"soak-{self.client}-{self.number}"
        return Act(name, "POST", "/api/v1/movements/", body, key, effects, lines)

    def of(self, item: str, room: str, **more: Any) -> dict[str, Any]:
        return {"item": item, "storeroom": room, **more}

    def issue(self) -> Act:
        item, room = self.chance.choice(self.items), self.chance.choice(ROOMS)
        body = self.of(item, room, kind="issue", quantity=1, work_order=f"WO-{self.client}")
        return self.movement("issue", 1, [(item, room, -1)], **body)

    def hot(self) -> Act:
        body = self.of(HOT, "MAIN", kind="issue", quantity=1)
        act = self.movement("hot", 1, [(HOT, "MAIN", -1)], **body)
        act.statuses = (CREATED, REFUSED)
        return act

    def receipt(self) -> Act:
        item, room, pieces = (
            self.chance.choice(self.items),
            self.chance.choice(ROOMS),
            self.chance.randint(1, 3),
        )
        reference = f"soak-{self.client}-{self.number}"
        body = self.of(item, room, kind="receipt", quantity=pieces, reference=reference)
        return self.movement("receipt", 1, [(item, room, pieces)], **body)

    def transfer(self) -> Act:
        item, (room, to) = self.chance.choice(self.items), self.chance.sample(ROOMS, 2)
        body = self.of(item, room, kind="transfer", quantity=1, to_storeroom=to)
        return self.movement("transfer", 2, [(item, room, -1), (item, to, 1)], **body)

    def count(self) -> Act:
        """Somebody counted one more, or one less, than the book said then; what moved meanwhile is kept."""
        item, room, off = self.chance.choice(ITEMS), self.chance.choice(ROOMS), self.chance.choice((-1, 1))
        body = self.of(item, room, kind="count", counted=300 + off, seen=300)
        return self.movement("count", 1, [(item, room, off)], **body)

    def reverse(self) -> Act:
        wrong = self.issued.pop(self.chance.randrange(len(self.issued)))
        ((item, room, change),) = wrong.effects
        act = self.movement("reverse", 1, [(item, room, -change)], reason="typed wrongly")
        act.path = f"/api/v1/movements/{wrong.entry}/reverse/"
        return act

    def order(self) -> Act:
        """Purchasing says something new of an order line, which moves no stock."""
        self.orders += 1
        said = (FITTED + STEP * self.orders).isoformat()
        body = self.of(self.chance.choice(ITEMS), "MAIN", quantity=1 + self.orders, ordered_at=said)
        number = self.orders % ORDERS_OF_A_CLIENT
        path = f"/api/v1/supply-orders/{SOURCE}/{self.client}-{number}/"
        body |= {"status": "open", "updated_at": said}
        return Act("order", "PUT", path, body, statuses=(DONE, CREATED))

    def message(self) -> Act:
        """A job of the client's own position is closed: its unit failed, and another one from MAIN is on."""
        self.messages += 1
        off = FITTED + STEP * self.messages
        body = {
            "title": "driver noisy",
            "kind": "corrective",
            "status": "closed",
            "position": position_of(self.client),
            "opened_at": (off - timedelta(minutes=30)).isoformat(),
            "closed_at": (off + timedelta(minutes=30)).isoformat(),
            "updated_at": (off + timedelta(minutes=40)).isoformat(),
            "failure": {"mechanism": "wear", "removed_at": off.isoformat()},
            "parts_used": [{"item": UNIT, "quantity": 1, "storeroom": "MAIN"}],
        }
        path = f"/api/v1/work-orders/{SOURCE}/{self.client}-{self.messages}/"
        return Act("message", "PUT", path, body, "", [(UNIT, "MAIN", -1)], 1, (DONE, CREATED))

    def open_count(self) -> Act:
        """Another client may have put a shelf of all on the list already; then both get the same task."""
        item, room = self.chance.choice((*ITEMS, self.own)), self.chance.choice(ROOMS)
        if any((one.item, one.room) == (self.own, room) for one in self.counts):
            item = self.chance.choice(ITEMS)
        act = self.movement("open_count", 0, [], **self.of(item, room))
        act.path = "/api/v1/count-tasks/"
        return act

    def record_count(self) -> Act:
        """Its own shelf the client saw when it put it on the list, and has moved pieces since; another one it counts now."""
        one, off = self.next_count(), self.chance.choice((-1, 0, 1))
        body: dict[str, Any] = {"counted": PLENTY + off}
        if one.held is not None:
            body = {"counted": one.held + off, "seen_at": one.looked_at.isoformat()}
        act = self.of_task("record_count", "count", one, **body)
        act.effects, act.lines = [(one.item, one.room, 0)], 1
        act.said = {} if one.held is None else {"booked": one.held, "variance": off}
        return act

    def drop_count(self) -> Act:
        return self.of_task("drop_count", "drop", self.next_count(), note="counted last week")

    def next_count(self) -> OpenCount:
        return self.counts.pop(self.chance.randrange(len(self.counts)))

    def of_task(self, name: str, verb: str, one: OpenCount, **body: Any) -> Act:
        act = self.movement(name, 0, [], **body)
        act.path = f"/api/v1/count-tasks/{one.task}/{verb}/"
        # Of a shelf of all, another client may have closed the task.
        act.statuses = (DONE,) if one.held is not None else (DONE, REFUSED)
        return act

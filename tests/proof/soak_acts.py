"""What the clients of the soak send: movements, reversals, counts, orders and messages, the same for the same seed."""

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
}


@dataclass
class Act:
    """One request. `effects` are the pieces that it moves where it takes effect, `lines` the rows of the ledger."""

    name: str
    method: str
    path: str
    body: dict[str, Any]
    key: str = ""
    effects: list[tuple[str, str, int]] = field(default_factory=list)
    lines: int = 0
    status: int = 0
    id: int | None = None


def position_of(client: int) -> str:
    return f"SOAK-P{client}"


class Acts:
    """Of one client: what it reverses is what it was told, so the acts are made one after the other."""

    def __init__(self, seed: int, client: int) -> None:
        self.client, self.chance = client, random.Random(f"{seed}-{client}")
        self.number = self.messages = self.orders = 0
        self.issued: list[Act] = []

    def make(self, count: int) -> Iterator[Act]:
        names, weights = list(WEIGHTS), list(WEIGHTS.values())
        for _ in range(count):
            self.number += 1
            name = self.chance.choices(names, weights)[0]
            if name == "reverse" and not self.issued:
                name = "issue"
            act: Act = getattr(self, name)()
            yield act
            if act.name == "issue" and act.status == 201:
                self.issued.append(act)

    def movement(self, name: str, lines: int, effects: list[tuple[str, str, int]], **body: Any) -> Act:
        key = f"soak-{self.client}-{self.number}"
        return Act(name, "POST", "/api/v1/movements/", body, key, effects, lines)

    def of(self, item: str, room: str, **more: Any) -> dict[str, Any]:
        return {"item": item, "storeroom": room, **more}

    def issue(self) -> Act:
        item, room = self.chance.choice(ITEMS), self.chance.choice(ROOMS)
        body = self.of(item, room, kind="issue", quantity=1, work_order=f"WO-{self.client}")
        return self.movement("issue", 1, [(item, room, -1)], **body)

    def hot(self) -> Act:
        body = self.of(HOT, "MAIN", kind="issue", quantity=1)
        return self.movement("hot", 1, [(HOT, "MAIN", -1)], **body)

    def receipt(self) -> Act:
        item, room, pieces = self.chance.choice(ITEMS), self.chance.choice(ROOMS), self.chance.randint(1, 3)
        reference = f"soak-{self.client}-{self.number}"
        body = self.of(item, room, kind="receipt", quantity=pieces, reference=reference)
        return self.movement("receipt", 1, [(item, room, pieces)], **body)

    def transfer(self) -> Act:
        item, (room, to) = self.chance.choice(ITEMS), self.chance.sample(ROOMS, 2)
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
        act.path = f"/api/v1/movements/{wrong.id}/reverse/"
        return act

    def order(self) -> Act:
        """Purchasing says something new of an order line, which moves no stock."""
        self.orders += 1
        said = (FITTED + STEP * self.orders).isoformat()
        body = self.of(self.chance.choice(ITEMS), "MAIN", quantity=1 + self.orders, ordered_at=said)
        number = self.orders % ORDERS_OF_A_CLIENT
        path = f"/api/v1/supply-orders/{SOURCE}/{self.client}-{number}/"
        return Act("order", "PUT", path, body | {"status": "open", "updated_at": said})

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
        return Act("message", "PUT", path, body, effects=[(UNIT, "MAIN", -1)], lines=1)

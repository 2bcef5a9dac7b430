"""The deeds of a step, done by the ledger's own functions or by requests: the driver does not know which."""

from collections.abc import Callable
from datetime import datetime
from typing import Any, Protocol

from rest_framework.test import APIClient

from inventory.models import Item, Reservation, StockEntry, Storeroom, Unit
from inventory.stores import ledger
from inventory.stores.counting import found_and_missing
from inventory.stores.ledger import LedgerRefusal, Movement, PiecesTooShort
from inventory.stores.ledger.booking import book
from tests.proof.steps import Mismatch

MARTA = "Marta Keller"
WHY = "typed wrongly"


class TurnedDown(Exception):  # noqa: N818 - reads as what happened
    """Nothing was done. `of_the_pieces`: for the sake of lengths of chain, of which the model knows nothing."""

    def __init__(self, word: str, of_the_pieces: bool = False) -> None:
        super().__init__(word)
        self.word, self.of_the_pieces = word, of_the_pieces


class Deeds(Protocol):
    now: datetime

    def seen(self, word: str) -> str:
        """How the ledger's word for a refusal shows itself here."""

    def book(self, movement: Movement) -> None: ...
    def found(self, issue: Movement, counted: int) -> None: ...
    def not_there(self, item: Item, room: Storeroom, condition: str) -> None: ...
    def reverse(self, pk: int) -> None: ...
    def reserve(
        self, item: Item, room: Storeroom, quantity: int, order: str, condition: str, ends: datetime | None
    ) -> None: ...
    def release(self, pk: int) -> None: ...
    def again(self, movement: Movement, dice: int) -> None: ...
    def another(self, first: Movement, other: Movement, dice: int) -> None: ...


class LedgerDeeds:
    def __init__(self, now: datetime) -> None:
        self.now = now

    def seen(self, word: str) -> str:
        return word

    def attempt(self, act: Callable[[], Any], is_chain: bool = False) -> Any:
        try:
            return act()
        except LedgerRefusal as refusal:
            of_pieces = isinstance(refusal, PiecesTooShort) or refusal.field == "piece"
            of_pieces = is_chain and (of_pieces or refusal.fact.code == "piece_shorter_since_seen")
            raise TurnedDown(type(refusal).__name__, of_pieces) from refusal

    def book(self, movement: Movement) -> None:
        self.attempt(lambda: book(movement, at=self.now), in_links(movement.item))

    def found(self, issue: Movement, counted: int) -> None:
        self.attempt(
            lambda: found_and_missing.book_found(issue, counted=counted, at=self.now), in_links(issue.item)
        )

    def not_there(self, item: Item, room: Storeroom, condition: str) -> None:
        act = lambda: found_and_missing.book_not_there(item, room, by=MARTA, condition=condition, at=self.now)  # noqa: E731
        self.attempt(act, in_links(item))

    def reverse(self, pk: int) -> None:
        places = ("item", "storeroom", "other_storeroom", "piece")
        entry = StockEntry.objects.select_related(*places).get(pk=pk)
        act = lambda: ledger.reverse(entry, by=MARTA, reason=WHY, occurred_at=self.now)  # noqa: E731
        self.attempt(act, in_links(entry.item))

    def reserve(
        self, item: Item, room: Storeroom, quantity: int, order: str, condition: str, ends: datetime | None
    ) -> None:
        details = {"work_order": order, "condition": condition, "expires_at": ends, "at": self.now}
        self.attempt(lambda: ledger.reserve(item, room, quantity, by=MARTA, **details), in_links(item))

    def release(self, pk: int) -> None:
        hold = Reservation.objects.with_places().get(pk=pk)
        self.attempt(lambda: ledger.release(hold, at=self.now))

    def again(self, movement: Movement, dice: int) -> None:
        if not book(movement, at=self.now).is_replay:
            raise Mismatch("6: a movement that was sent again was booked again")

    def another(self, first: Movement, other: Movement, dice: int) -> None:
        try:
            book(other, at=self.now)
        except ledger.AlreadyBooked:
            return
        raise Mismatch("6: another movement was booked under a reference that is taken")


class HttpDeeds:
    """Each request has a key of its own; some are sent again, with the key or with the reference alone."""

    SHOWN = {
        "LedgerRefusal": "400",
        "AlreadyReversed": "409",
        "NotReversible": "409",
        "ReservationEnded": "409",
    }

    def __init__(self, now: datetime, client: APIClient) -> None:
        self.now, self.client = now, client
        self.keys = 0
        self.requests = 0
        self.sent: dict[str, tuple[dict[str, Any], str, Any]] = {}

    def seen(self, word: str) -> str:
        return self.SHOWN.get(word, word)

    def post(self, path: str, body: dict[str, Any], key: str = "") -> Any:
        self.keys += 1
        self.requests += 1
        return self.client.post(f"/api/v1/{path}/", body, HTTP_IDEMPOTENCY_KEY=key or f"h-{self.keys}")

    def send(self, path: str, body: dict[str, Any], item: Item | None = None) -> Any:
        answer = self.post(path, body)
        if answer.status_code in (200, 201):
            return answer
        if answer.status_code not in (400, 409):
            raise Mismatch(f"{path} {body}: {answer.status_code} {answer.content[:500]!r}")
        told, is_chain = answer.json(), item is not None and in_links(item)
        of_pieces = is_chain and ("piece_links" in told or "piece" in told["detail"].lower())
        word = (
            "ReservedForOthers"
            if "reservations" in told
            else "StockShort"
            if "requested" in told
            else str(told["status"])
        )
        raise TurnedDown(word, of_pieces)

    def book(self, movement: Movement) -> None:
        body = body_of(movement)
        answer = self.send("movements", body, movement.item)
        if movement.reference:
            self.sent[movement.reference] = (body, f"h-{self.keys}", answer)

    def found(self, issue: Movement, counted: int) -> None:
        body = {**body_of(issue), "counted": counted}
        del body["kind"]
        self.send("movements/found", body, issue.item)

    def not_there(self, item: Item, room: Storeroom, condition: str) -> None:
        body = {"item": item.stock_number, "storeroom": room.code, "condition": condition}
        self.send("movements/not-there", body, item)

    def reverse(self, pk: int) -> None:
        item = StockEntry.objects.select_related("item").get(pk=pk).item
        self.send(f"movements/{pk}/reverse", {"reason": WHY}, item)

    def reserve(
        self, item: Item, room: Storeroom, quantity: int, order: str, condition: str, ends: datetime | None
    ) -> None:
        body = {"item": item.stock_number, "storeroom": room.code, "quantity": quantity, "work_order": order}
        more = {"condition": condition, "expires_at": ends.isoformat() if ends else None}
        self.send("reservations", {**body, **more}, item)

    def release(self, pk: int) -> None:
        self.send(f"reservations/{pk}/release", {})

    def again(self, movement: Movement, dice: int) -> None:
        body, key, first = self.sent[movement.reference]
        answer = self.post("movements", body, key if dice % 2 else "")
        same_key = dice % 2 and answer.content == first.content and "Idempotency-Replayed" in answer
        if not same_key and (dice % 2 or answer.json()["id"] != first.json()["id"]):
            raise Mismatch(
                f"6: sent again, {body} was answered {answer.status_code} {answer.content[:300]!r}"
            )

    def another(self, first: Movement, other: Movement, dice: int) -> None:
        _, key, _ = self.sent[first.reference]
        answer = self.post("movements", body_of(other), key if dice % 2 else "")
        expected = 422 if dice % 2 else 409
        if answer.status_code != expected:
            raise Mismatch(f"6: another movement under a taken key or reference: {answer.status_code}")


def in_links(item: Item) -> bool:
    return bool(item.unit == Unit.LINK)


def body_of(movement: Movement) -> dict[str, Any]:
    body: dict[str, Any] = {
        "kind": str(movement.kind),
        "item": movement.item.stock_number,
        "storeroom": movement.storeroom.code,
        "condition": str(movement.condition),
        "quantity": movement.quantity,
        "counted": movement.counted,
        "seen": movement.seen,
        "to_storeroom": movement.to_storeroom.code if movement.to_storeroom else None,
        "to_condition": str(movement.to_condition),
        "piece_links": list(movement.pieces) if movement.pieces else None,
        "join_pieces": movement.join_pieces or None,
        "work_order": movement.work_order,
        "reason_code": str(movement.reason_code),
        "reference": movement.reference,
        "expected_back_on": movement.expected_back_on.isoformat() if movement.expected_back_on else None,
        "override": {"reason": movement.override} if movement.override else None,
    }
    return {name: value for name, value in body.items() if value not in (None, "")}

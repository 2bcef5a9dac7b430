"""Two numbers of one part with stock, reservations, policies, orders, requests and counts, as the product writes them."""

from datetime import date, timedelta
from random import Random
from typing import Any

from drives.models import Request
from drives.service_record.requests import record_request
from inventory.models import (
    CountTask,
    Item,
    Recommendation,
    Reservation,
    StockEntry,
    StockLevel,
    StockPiece,
    StockPolicy,
    Storeroom,
    SupplyOrder,
)
from inventory.stores import kits, ledger
from inventory.stores.counting.count_requests import request_count
from tests import factories as make
from tests import movements

MARTA = "Marta Keller"


def twins(**columns: Any) -> tuple[Item, Item]:
    part = make.SprocketFactory()
    return (
        make.ItemFactory(stock_number="OLD-1", specification=part, **columns),
        make.ItemFactory(stock_number="NEW-1", specification=part, **columns),
    )


def busy_twins(seed: int) -> tuple[Item, Item]:
    """A storeroom's year in small, the same for the same seed."""
    chance = Random(seed)
    unit = chance.choice(["each", "each", "link"])
    if unit == "link":
        part = make.ChainFactory()
        item, into = (
            make.ChainItemFactory(stock_number=name, specification=part) for name in ("OLD-1", "NEW-1")
        )
    else:
        item, into = twins()
    rooms = [make.StoreroomFactory(code=code) for code in ("MAIN", "NORTH")]
    for step in range(chance.randint(16, 30)):
        one, room = chance.choice([item, into]), chance.choice(rooms)
        act = _receive if step < 4 else chance.choice(ACTS)
        try:
            act(one, room, chance, step)
        except ledger.LedgerRefusal:
            continue
    return item, into


def _receive(item: Item, room: Storeroom, chance: Random, step: int) -> None:
    condition = chance.choice(["new", "new", "used_serviceable"])
    shelf = make.BinFactory(storeroom=room) if chance.random() < 0.5 else None
    movements.receive(item, room, chance.randint(1, 9), by=MARTA, condition=condition, bin=shelf)


def _issue(item: Item, room: Storeroom, chance: Random, step: int) -> None:
    movements.issue(item, room, chance.randint(1, 3), by=MARTA, work_order=f"WO-{step}")


def _reserve(item: Item, room: Storeroom, chance: Random, step: int) -> None:
    ledger.reserve(item, room, chance.randint(1, 3), work_order=f"WO-R{step}", by=MARTA)


def _kit(item: Item, room: Storeroom, chance: Random, step: int) -> None:
    kits.make(f"WO-K{step}", room, [ledger.ReservationLine(item, 1)], by=MARTA)


def _policy(item: Item, room: Storeroom, chance: Random, step: int) -> None:
    point = chance.randint(0, 3)
    levels: dict[str, Any] = {"stocked": True, "reorder_point": point, "set_by_name": MARTA}
    levels |= {"order_up_to": point + chance.randint(1, 3)}
    if chance.random() < 0.2:
        levels |= {"stocked": False, "reorder_point": -1, "order_up_to": 0}
    review = chance.choice([None, date(2027, 1, 1) + timedelta(days=chance.randint(0, 300))])
    StockPolicy.objects.update_or_create(item=item, storeroom=room, defaults=levels | {"review_on": review})


def _order(item: Item, room: Storeroom, chance: Random, step: int) -> None:
    status = chance.choice(["open", "open", "cancelled"])
    make.SupplyOrderFactory(item=item, storeroom=room, quantity=chance.randint(1, 4), status=status)


def _ask(item: Item, room: Storeroom, chance: Random, step: int) -> None:
    issued = item if chance.random() < 0.5 else None
    result = "filled" if issued else "not_filled"
    record_request(at=make.MORNING, item=item, storeroom=room, quantity=1, result=result, issued_item=issued)


def _count(item: Item, room: Storeroom, chance: Random, step: int) -> None:
    request_count(item, room, "new", cause="asked", at=make.MORNING)


def _recommend(item: Item, room: Storeroom, chance: Random, step: int) -> None:
    if not Recommendation.objects.current().filter(item=item, storeroom=room).exists():
        make.RecommendationFactory(item=item, storeroom=room)


ACTS = (
    _receive,
    _receive,
    _receive,
    _issue,
    _reserve,
    _reserve,
    _kit,
    _policy,
    _policy,
    _order,
    _ask,
    _count,
)
ACTS = (*ACTS, _recommend)
LEVEL = ("item", "storeroom", "condition", "on_hand", "reserved", "bin", "is_closed")
STAMPS = {"created_at", "updated_at"}


def everything() -> dict[str, list[Any]]:
    """What a merge moves, without the stamps and the shelves on which nothing lies."""
    levels = StockLevel.objects.exclude(on_hand=0, reserved=0).order_by("item", "storeroom", "condition")
    pieces = StockPiece.objects.filter(links__gt=0).order_by("pk")
    found: dict[str, list[Any]] = {
        "levels": list(levels.values_list(*LEVEL)),
        "closed": list(StockLevel.objects.filter(is_closed=True).values_list("pk", flat=True)),
        "pieces": list(pieces.values_list("pk", "level", "links", "label")),
    }
    for model in (Reservation, StockPolicy, SupplyOrder, Request, CountTask, Recommendation, Item):
        rows = model.objects.order_by("pk").values()
        found[model.__name__] = [{k: v for k, v in row.items() if k not in STAMPS} for row in rows]
    return found


def balances() -> dict[tuple[int, str], int]:
    """Pieces in each storeroom and condition, whatever their number, by the sum of the ledger."""
    found: dict[tuple[int, str], int] = {}
    for room, condition, change in StockEntry.objects.values_list("storeroom", "condition", "change"):
        found[room, condition] = found.get((room, condition), 0) + change
    return {key: total for key, total in found.items() if total}

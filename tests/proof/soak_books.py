"""`python -m tests.proof.soak_books prepare CLIENTS PORT` makes the plant of the soak and prints its token;
`... check FILE` compares the books with each telling of what the clients, the feed and the receiver were told, and prints the differences."""

import json
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import django

from tests.proof.soak_acts import (
    FITTED,
    HOT,
    HOT_PIECES,
    ITEMS,
    PLENTY,
    ROOMS,
    SOURCE,
    UNIT,
    own_item,
    position_of,
)

MOVED = "stock.moved"
MOST_SHOWN = 30


class Happened(NamedTuple):
    type: str
    aggregate: str
    version: int
    sequence: int


def prepare(clients: int, port: int) -> str:
    from api.models import AccessToken, Webhook
    from api.webhooks.secrets import encrypted
    from inventory.models import Storeroom
    from tests import factories as make
    from tests.api.webhooks.subscribing import SECRET

    rooms = [Storeroom.objects.get(code=code) for code in ROOMS]
    for number in (*ITEMS, UNIT, *(own_item(client) for client in range(clients))):
        item = make.ItemFactory(stock_number=number)
        for room in rooms:
            make.stock(item, room, PLENTY, occurred_at=FITTED)
    make.stock(make.ItemFactory(stock_number=HOT), rooms[0], HOT_PIECES, occurred_at=FITTED)
    unit = make.ItemFactory(stock_number=f"{UNIT}-FIRST")
    for client in range(clients):
        tag = position_of(client)
        position = make.PositionFactory(tag=tag, drive=make.DriveFactory(tag=f"{tag}-D"))
        make.InstallationFactory(position=position, item=unit, installed_at=FITTED)
    token, secret = AccessToken.objects.issue("the soak", role="integration")
    hook = {"url": f"http://127.0.0.1:{port}/hook", "secret": encrypted(SECRET), "owner_token": token}
    Webhook.objects.create(**hook)
    return secret


def check(told: dict[str, Any]) -> Iterator[str]:
    from drives.service_record import pieces_out
    from inventory.stores.ledger.verify import verify

    yield from (f"the ledger: {found}" for found in (*verify(), *pieces_out.differences()))
    acts = told["acts"]
    yield from _answers(acts)
    done = [act for act in acts if act["is_done"]]
    yield from _stock(done, told["clients"])
    yield from _counts(done)
    yield from _record(acts, told["clients"])
    yield from _events(told)


def _answers(acts: list[dict[str, Any]]) -> Iterator[str]:
    ids = Counter(act["entry"] for act in acts if act["entry"] is not None)
    if doubled := [pk for pk, times in ids.items() if times > 1]:
        yield f"{len(doubled)} movements answer more than one key"
    requested = sum(act["name"] == "hot" for act in acts)
    taken = sum(act["name"] == "hot" and act["is_done"] for act in acts)
    if taken != min(HOT_PIECES, requested):
        yield f"{taken} of {HOT_PIECES} scarce pieces went out to {requested} requests"


def _stock(done: list[dict[str, Any]], clients: int) -> Iterator[str]:
    from inventory.models import StockEntry, StockLevel

    moved: Counter[tuple[str, str]] = Counter()
    for act in done:
        for item, room, change in act["effects"]:
            moved[item, room] += change
    own = StockLevel.objects.filter(item__stock_number__startswith="SOAK-")
    for item, room, on_hand in own.values_list("item__stock_number", "storeroom__code", "on_hand"):
        begun = HOT_PIECES if item == HOT else PLENTY
        if on_hand != begun + moved[item, room]:
            yield f"{item} in {room}: {on_hand} on hand, {begun} came in and {moved[item, room]:+} were told"
    lines = StockEntry.objects.filter(item__stock_number__startswith="SOAK-").count()
    lines -= _first_receipts(clients)
    expected = sum(act["lines"] for act in done)
    if lines != expected:
        yield f"{lines} lines of the ledger, {expected} were told"


def _first_receipts(clients: int) -> int:
    return len(ROOMS) * (len(ITEMS) + 1 + clients) + 1


def _counts(done: list[dict[str, Any]]) -> Iterator[str]:
    """Every task is closed once, as its client was told; its line of the ledger makes of the book what was counted."""
    from inventory.models import CountTask

    opened = {act["told"]["id"] for act in done if act["name"] == "open_count"}
    closed = [act for act in done if act["name"] in ("record_count", "drop_count")]
    told = {act["told"]["id"]: act for act in closed}
    if len(told) != len(closed):
        yield f"{len(closed)} counts were recorded or dropped of {len(told)} tasks"
    tasks = CountTask.objects.filter(item__stock_number__startswith="SOAK-").select_related("entry")
    for task in tasks.iterator():
        act = told.pop(task.pk, None)
        opened.discard(task.pk)
        is_told = {} if act is None else act["told"]
        recorded = {"state": "open", "counted": None, "booked": None, "movement": None} | is_told
        found = {"state": task.state, "counted": task.counted, "booked": task.booked}
        if found | {"movement": task.entry_id} != {name: recorded[name] for name in (*found, "movement")}:
            yield f"count {task.pk}: {found} and line {task.entry_id}, {is_told} was told"
        if task.entry is not None and (wrong := _wrong_line(task, act)):
            yield f"count {task.pk}: {wrong}"
    yield from (f"count {pk} is missing" for pk in sorted(opened | told.keys()))


def _wrong_line(task: Any, act: dict[str, Any] | None) -> str:
    line = task.entry
    if line.change != task.variance:
        return f"the line has {line.change:+}, {task.variance:+} was found"
    if act is not None and act["seen_at"] is None and line.balance_after != task.counted:
        return f"{line.balance_after} lie there after {task.counted} were counted"
    return ""


def _record(acts: list[dict[str, Any]], clients: int) -> Iterator[str]:
    """Every message began one unit and ended the one before; of every order line the newest is kept."""
    from drives.models import Installation, WorkOrder
    from inventory.models import SupplyOrder

    messages = Counter(int(act["client"]) for act in acts if act["name"] == "message")
    jobs = WorkOrder.objects.filter(source=SOURCE).count()
    if jobs != messages.total():
        yield f"{jobs} jobs of {messages.total()} messages"
    units: dict[str, list[Any]] = defaultdict(list)
    of_soak = Installation.objects.filter(position__tag__startswith="SOAK-P")
    for tag, removed_at, entry in of_soak.values_list("position__tag", "removed_at", "stock_entry"):
        units[tag].append((removed_at, entry))
    for client in range(clients):
        found = units[position_of(client)]
        fitted = [entry for removed_at, entry in found if removed_at is None]
        issues = {entry for _, entry in found if entry is not None}
        counts = (len(found), len(fitted), len(issues))
        if counts != (1 + messages[client], 1, messages[client]):
            yield f"{position_of(client)}: units, fitted and issues {counts} of {messages[client]} messages"
    newest = {act["path"]: act["quantity"] for act in acts if act["name"] == "order"}
    for source, number, quantity in SupplyOrder.objects.filter(source=SOURCE).values_list(
        "source", "external_id", "quantity"
    ):
        path = f"/api/v1/supply-orders/{source}/{number}/"
        if newest.pop(path, None) != quantity:
            yield f"{path}: {quantity} pieces are not what was said last"
    yield from (f"{path}: the order is missing" for path in newest)


def _events(told: dict[str, Any]) -> Iterator[str]:
    """Every event is told once by the feed and at least once to the receiver, in whose order those of a record follow one another.

    What the scheduler began after the feed was read is in neither.
    """
    from api.webhooks.message import event_id
    from inventory.models import Event, StockEntry

    happened = {
        event_id(event): Happened(event.type, event.aggregate, event.version, event.sequence or 0)
        for event in Event.objects.defer("data").iterator()
    }
    last = max((happened[one].sequence for one in told["fed"] if one in happened), default=0)
    once = Counter(name for name, event in happened.items() if event.sequence <= last)
    moved = sum(happened[name].type == MOVED for name in once)
    if moved != StockEntry.objects.count():
        yield f"{moved} events of {StockEntry.objects.count()} lines"
    fed = Counter(told["fed"])
    if fed != once:
        missing, more = once - fed, fed - once
        yield f"the feed misses {len(missing)} events and tells {len(more)} too often or in vain"
    received = list(dict.fromkeys(told["received"]))
    lost, strange = once.keys() - set(received), set(received) - happened.keys()
    if lost or strange:
        yield f"the receiver misses {len(lost)} events and got {len(strange)} that are none"
    seen: dict[str, int] = {}
    for event in (happened[one] for one in received if one in happened):
        if event.version < seen.get(event.aggregate, 0):
            yield f"{event.aggregate}: version {event.version} arrived after {seen[event.aggregate]}"
        seen[event.aggregate] = event.version


def main() -> None:
    django.setup()
    if sys.argv[1] == "prepare":
        print(prepare(int(sys.argv[2]), int(sys.argv[3])))
        return
    tellings = json.loads(Path(sys.argv[2]).read_text())
    print(json.dumps([list(check(told))[:MOST_SHOWN] for told in tellings]))


if __name__ == "__main__":
    main()

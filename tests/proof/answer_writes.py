"""Requests that write, in a fixed order: each sees what the ones before have written. The caller rolls all of it back."""

from io import StringIO
from itertools import count
from typing import Any

from django.core.management import call_command

from tests.proof.answer_recorder import Recorder
from tests.proof.answer_requests import save_money

ROOM = "OM-MAIN"
URGENT = "WO-501275"
SOURCE = "maintenance-planning"
TERMS = {"holding_rate_per_year": 0.25, "order_cost": "45.00", "hours_to_expedite": 36}
COST_FOR = "vital"
LISTS = (
    *("stock", "movements", "reservations", "kits", "count-tasks", "fit-questions", "requests"),
    *("installations", "work-orders", "supply-orders", "meter-readings", "inbound-messages", "changes"),
    *("stock-policies", "recommendations", "code-words"),
)


class Writes:
    """Numbers the writes, so that each has a name of its own."""

    def __init__(self, recorder: Recorder) -> None:
        self.recorder, self.numbers = recorder, count(1)
        levels = recorder.all_records("stock/")
        here = [one for one in levels if one["storeroom"] == ROOM and one["condition"] == "new"]
        self.pieces = [one["item"] for one in here if one["unit"] == "each" and one["available"] >= 2]
        self.chains = [one["item"] for one in here if one["unit"] == "link" and one["available"] >= 60]

    def post(self, path: str, body: dict[str, Any], by: str = "storeroom") -> Any:
        return self.recorder.send(f"write {next(self.numbers)} post {named(path)}", path, body, by=by)

    def put(self, path: str, body: dict[str, Any]) -> Any:
        """As another system puts it: whatever version is recorded."""
        name = f"write {next(self.numbers)} put {path}"
        return self.recorder.send(name, path, body, by="integration", method="put")

    def change(self, path: str, body: dict[str, Any], method: str = "patch") -> Any:
        """As a manager changes it: the version that was read."""
        name = f"write {next(self.numbers)} {method} {named(path)}"
        return self.recorder.send(name, path, body, method=method, etag=self.recorder.etag_of(path))

    def move(self, kind: str, item: str, quantity: int | None = None, **more: Any) -> Any:
        body = {"kind": kind, "item": item, "storeroom": ROOM, **more}
        return self.post("movements/", body if quantity is None else body | {"quantity": quantity})


def named(path: str) -> str:
    """Without the numbers that a database counts."""
    return "/".join("#" if part.isdigit() else part for part in path.split("/"))


def save_writes(recorder: Recorder) -> None:
    writes = Writes(recorder)
    book_pieces(writes)
    book_chain(writes)
    hold_back(writes)
    set_the_book_right(writes)
    fit_and_remove(writes)
    record_requests(writes)
    decide(writes)
    feed(writes)
    save_again(recorder, "after the writes")
    plan_with_costs(writes)


def book_pieces(writes: Writes) -> None:
    item, other = writes.pieces[:2]
    arrived = {"reference": "D-1", "unit_cost": "38.50", "bin": "A-01-1"}
    writes.move("receipt", item, 20, **arrived)
    writes.move("receipt", item, 20, **arrived)
    writes.move("receipt", item, 21, reference="D-1")
    job = {"work_order": "WO-1", "position": "OM-GER-TN14-D1-DRV"}
    writes.move("issue", item, 3, **job)
    issued = writes.move("issue", item, 3, **job, reason="bush changed too")
    writes.move("issue", item, 5_000, **job, reason="bush changed too")
    writes.move("issue", item, 1, work_order="WO-1", expected_back_on="2026-12-24")
    writes.move("issue", item, 1, occurred_at="2031-01-01T00:00:00Z")
    writes.move("issue", "nothing", 1)
    writes.move("issue", item)
    writes.move("return", item, 1, work_order="WO-1", reason_code="not_needed")
    back = {"work_order": "WO-1", "reason_code": "did_not_fit", "position": "OM-GER-TN14-D1-DRV"}
    writes.move("return", item, 1, **back)
    writes.move("return", item, 1, reason_code="did_not_fit", condition="new")
    writes.move("scrap", item, 1, condition="on_hold", reason_code="written_off")
    writes.move("transfer", other, 1, to_storeroom="LW-MAIN")
    writes.move("transfer", other, 1, to_condition="on_hold")
    writes.move("transfer", other, 1, to_storeroom=ROOM)
    writes.post(f"movements/{issued['id']}/reverse/", {"reason": "typed wrongly"})
    writes.post(f"movements/{issued['id']}/reverse/", {"reason": "typed wrongly"})


def book_chain(writes: Writes) -> None:
    chain = writes.chains[0]
    writes.move("receipt", chain, 240, piece_links=[100, 80, 60])
    writes.move("issue", chain, 50)
    writes.move("issue", chain, 150)
    writes.move("issue", chain, 150, join_pieces=True)
    writes.recorder.get("pieces of the chain", f"items/{chain}/stock/")
    writes.recorder.get("movements of the chain", f"items/{chain}/movements/", {"limit": 10})


def hold_back(writes: Writes) -> None:
    item, other, third = writes.pieces[2:5]
    held = {"item": item, "storeroom": ROOM, "quantity": 1, "work_order": "WO-2"}
    writes.post("reservations/", held | {"expires_at": "2027-01-31T06:00:00+01:00"})
    writes.post("reservations/", held | {"quantity": 500})
    free = writes.recorder.read(f"stock/?item={item}&storeroom={ROOM}")
    most = max(level["available"] for level in free["results"])
    writes.move("issue", item, most + 1, work_order="WO-3", position="OM-KLN-KS01-D1-DRV")
    urgent = {"work_order": URGENT, "override": {"reason": "kiln stands"}}
    writes.move("issue", item, most + 1, **{**urgent, "work_order": "WO-501268"})
    writes.move("issue", item, most + 1, **urgent)
    lines = [{"item": other, "quantity": 1}, {"item": third, "quantity": 2}]
    kit = {"work_order": "WO-501263", "storeroom": ROOM, "needed_by": "2026-12-14", "place": "cage 4"}
    made = writes.post("kits/", kit | {"lines": lines})
    writes.post("kits/", kit | {"lines": lines})
    writes.post("kits/", kit | {"work_order": "WO-4", "lines": [{"item": third, "quantity": 900}]})
    writes.post(f"kits/{made['id']}/stage/", {"place": "cage 5"})
    writes.move("issue", other, 1, work_order="WO-501263")
    writes.recorder.get("readiness with a kit", f"work-orders/{SOURCE}/WO-501263/readiness/")
    writes.post(f"kits/{made['id']}/release/", {})
    writes.post(f"kits/{made['id']}/release/", {})


def set_the_book_right(writes: Writes) -> None:
    item, other, third, fourth = writes.pieces[5:9]
    writes.move("count", item, counted=4, seen=2)
    writes.move("count", item, counted=0, reason_code="not_there")
    found = {"item": item, "storeroom": ROOM, "quantity": 3, "work_order": "WO-5"}
    writes.post("movements/found/", found)
    writes.post("movements/found/", found | {"counted": 7})
    place = {"position": "OM-GER-TN14-D1-DRV", "work_order": "WO-5"}
    writes.post("movements/not-there/", {"item": other, "storeroom": ROOM, **place})
    shelf = {"item": third, "storeroom": ROOM}
    task = writes.post("count-tasks/", shelf)
    writes.post("count-tasks/", shelf)
    writes.post(f"count-tasks/{task['id']}/count/", {"counted": 1, "note": "two lay behind"})
    writes.post(f"count-tasks/{task['id']}/count/", {"counted": 1})
    task = writes.post("count-tasks/", {"item": fourth, "storeroom": ROOM})
    writes.post(f"count-tasks/{task['id']}/drop/", {"note": "shelf is gone"})
    writes.recorder.get("accuracy of counts afterwards", "count-tasks/accuracy/", {"storeroom": ROOM})
    for question in writes.recorder.all_records("fit-questions/"):
        writes.post(f"fit-questions/{question['id']}/answer/", {"answer": "bore is 24.9"})
        writes.post(f"fit-questions/{question['id']}/answer/", {"answer": "bore is 25"})


def fit_and_remove(writes: Writes) -> None:
    fitted = [
        one for one in writes.recorder.all_records("positions/") if one["fitted"] and one["fitted"]["item"]
    ]
    for place in fitted[10::80]:
        unit, tag, item = place["fitted"]["installation"], place["tag"], place["fitted"]["item"]
        writes.post("installations/", {"position": tag, "item": item, "installed_at": "2026-11-27T10:00:00Z"})
        ended = {"removed_at": "2026-11-27T09:00:00Z", "ended_by": "failure", "mechanism": "wear"}
        writes.post(f"installations/{unit}/remove/", ended | {"part": "teeth", "cause": "dry chain"})
        writes.post(f"installations/{unit}/remove/", ended)
        new = {"position": tag, "item": writes.pieces[9], "installed_at": "2026-11-27T10:00:00Z"}
        made = writes.post("installations/", new | {"installed_why": "at hand"})
        writes.post("installations/", new)
        approval = {"approved_by": "Ines Okafor", "until_on": "2026-12-20", "inspect_by": "2026-12-05"}
        writes.post(f"installations/{made['id']}/approvals/", approval)
        writes.post(f"installations/{made['id']}/approvals/", approval, by="manager")
        late = approval | {"until_on": "2029-01-01", "inspect_by": None}
        writes.post(f"installations/{made['id']}/approvals/", late, by="manager")
        writes.recorder.get(
            f"substitutes {tag} after the fitting",
            f"positions/{tag}/substitutes/",
            {"at": writes.recorder.now},
        )
    writes.post("installations/", {"position": "nothing", "item": "nothing", "installed_at": "soon"})


def record_requests(writes: Writes) -> None:
    item, other = writes.pieces[10:12]
    asked = {"item": item, "storeroom": ROOM, "at": "2026-11-27T07:30:00+01:00", "result": "not_filled"}
    writes.post("requests/", asked | {"reference": "RQ-X1"})
    writes.post("requests/", asked | {"reference": "RQ-X1"})
    writes.post("requests/", asked | {"reference": "RQ-X1", "quantity": 4})
    substituted = {"result": "filled_by_substitute", "issued_item": other, "work_order": "WO-7"}
    made = writes.post("requests/", asked | substituted)
    writes.post("requests/", {"storeroom": ROOM, "result": "maybe"})
    writes.post(f"requests/{made['id']}/retract/", {})
    writes.post(f"requests/{made['id']}/retract/", {})


def decide(writes: Writes) -> None:
    changed = [one["id"] for one in writes.recorder.all_records("recommendations/") if one["changed"]]
    first, second, third = changed[:3]
    writes.post(f"recommendations/{first}/accept/", {"reason": "agreed"})
    writes.post(f"recommendations/{first}/accept/", {"reason": "agreed"}, by="manager")
    writes.post(f"recommendations/{first}/decline/", {"reason": "no"}, by="manager")
    amended = {"reorder_point": 3, "order_up_to": 5, "reason": "winter"}
    writes.post(f"recommendations/{second}/amend/", amended, by="manager")
    writes.post(f"recommendations/{third}/amend/", amended | {"order_up_to": 2}, by="manager")
    writes.post(f"recommendations/{third}/decline/", {"reason": "drive goes in spring"}, by="manager")


def feed(writes: Writes) -> None:
    """Messages of other systems: new, stale, again, of a place that nobody knows."""
    path = f"work-orders/{SOURCE}/{URGENT}/"
    order = writes.recorder.read(path)
    item = order["parts_needed"][0]["item"]
    sent = ("title", "kind", "urgency", "position", "opened_at", "parts_needed")
    closed = {name: order[name] for name in sent} | {
        "status": "closed",
        "closed_at": "2026-11-27T04:00:00Z",
        "updated_at": "2026-11-27T04:10:00Z",
        "failure": {"mechanism": "wear", "cause": "dry chain", "part": "teeth", "note": "hooked"},
        "parts_used": [{"item": item, "quantity": 1, "storeroom": ROOM}],
    }
    writes.put(path, closed)
    writes.put(path, closed)
    writes.put(path, closed | {"status": "open", "closed_at": None, "updated_at": "2026-11-20T04:10:00Z"})
    writes.put(path, closed | {"updated_at": "yesterday", "colour": 1})
    writes.put(f"work-orders/{SOURCE}/WO-9/", closed | {"position": "nowhere", "parts_used": []})
    ordered = {"item": item, "storeroom": ROOM, "quantity": 4, "received": 0, "status": "open"} | {
        "ordered_at": "2026-11-27T06:00:00Z",
        "updated_at": "2026-11-27T06:00:00Z",
        "currency": "EUR",
    }
    writes.put("supply-orders/purchasing/PO-X1/", ordered)
    came = {"received": 4, "status": "received", "received_at": "2026-11-28T06:00:00Z"}
    writes.put("supply-orders/purchasing/PO-X1/", ordered | came | {"updated_at": "2026-11-28T06:00:00Z"})
    writes.put("supply-orders/purchasing/PO-X1/", ordered)
    reading = {"position": order["position"], "at": "2026-11-26T06:00:00Z", "hours": 1_000.5}
    writes.put("meter-readings/meters/R-1/", reading | {"updated_at": "2026-11-26T06:00:00Z"})
    back = reading | {"at": "2026-11-27T06:00:00Z", "hours": 900, "updated_at": "2026-11-27T06:00:00Z"}
    writes.put("meter-readings/meters/R-2/", back)


def save_again(recorder: Recorder, when: str) -> None:
    for resource in LISTS:
        recorder.get(f"list {resource} {when}", f"{resource}/", {"limit": 60})
    newest = recorder.read("events/?limit=500&after=4000")["after"]
    recorder.get(f"events {when}", "events/", {"after": max(0, newest - 150), "limit": 200})
    recorder.get(f"exposure {when}", "exposure/", {"limit": 50, "at": recorder.now})


def plan_with_costs(writes: Writes) -> None:
    """The terms of money are set, vital parts are kept by cost, and every recommendation is made again."""
    writes.change("stocking/terms/", TERMS, "put")
    for target in writes.recorder.all_records("service-targets/"):
        if target["importance"] == COST_FOR:
            writes.change(f"service-targets/{target['id']}/", {"kind": "cost"})
    call_command("recommend_stock", full=True, stdout=StringIO(), stderr=StringIO())
    for query in ({"importance": COST_FOR}, {"changed": "true"}):
        name = f"recommendations by cost, {next(iter(query))}"
        writes.recorder.get(name, "recommendations/", {"limit": 150, **query})
    save_money(writes.recorder, "with terms of money")

"""`python -m tests.proof.same_requests`: the same few hundred requests on any database, and what was answered, as JSON lines.

The clock is set, so that times are equal; what a database counts for itself (ids, and what is made of them) is masked.
"""

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from io import StringIO
from typing import Any

import django
from django.core.management import call_command

API = "/api/v1/"
IDS = re.compile(r"(?<=/)\d+(?=/)|(?<=Entry )\d+|(?<=number )\d+")
CURSOR = re.compile(r"cursor=[^&\"]+")
MASKED = {"id", "request_id", "secret", "cursor", "next_cursor"}
REFERRING = {
    *("movement", "reverses", "reversed_by", "transfer", "piece", "specification", "area", "bin", "level"),
    *(
        "installation",
        "reservation",
        "kit",
        "count_task",
        "run",
        "webhook",
        "entry",
        "key",
        "event",
        "sequence",
    ),
    *("machine_shop", "replaces", "superseded_by", "stock_entry", "removed_by", "pieces"),
}
WRONG: tuple[tuple[str, Any], ...] = (
    ("unknown member", {"colour": "blue"}),
    ("list for a body", []),
    ("text for a body", "x"),
)


class Scribe:
    def __init__(self, client: Any) -> None:
        self.client = client
        self.lines: list[list[Any]] = []
        self.keys = 0

    @property
    def now(self) -> datetime:
        return datetime(2026, 3, 2, 8, tzinfo=UTC) + timedelta(seconds=len(self.lines))

    def ask(self, method: str, path: str, body: Any = None, **headers: str) -> Any:
        sent = {f"HTTP_{name}": value for name, value in headers.items()}
        if method == "POST" and "IDEMPOTENCY_KEY" not in headers:
            self.keys += 1
            sent["HTTP_IDEMPOTENCY_KEY"] = f"k-{self.keys}"
        send = getattr(self.client, method.lower())
        answer = send(API + path, **sent) if body is None else send(API + path, body, format="json", **sent)
        if method == "GET" and answer.status_code == 202:
            call_command("run_jobs", stdout=StringIO())
            answer = send(API + path, **sent)
        told = json.loads(answer.content) if "json" in answer.get("Content-Type", "") else None
        kept = [answer.get(name) for name in ("Content-Type", "Retry-After", "Allow", "Idempotency-Replayed")]
        self.lines.append([method, masked(path), answer.status_code, kept, masked(told)])
        return answer


def masked(value: Any, name: str = "") -> Any:
    if isinstance(value, dict):
        return {key: masked(one, key) for key, one in value.items()}
    if name in MASKED or (name in REFERRING and isinstance(value, int | str)):
        return "#"
    if isinstance(value, list):
        return [masked(one, name) for one in value]
    if isinstance(value, str):
        return CURSOR.sub("cursor=#", IDS.sub("#", value))
    return value


def records(scribe: Scribe) -> None:
    """Each resource: listed, filtered, read, posted, changed, taken away, and asked in wrong ways."""
    from tests.api.records import EVERY, WRITABLE

    for resource in EVERY:
        path = f"{resource.name}/"
        key = [resource.make(number) for number in range(3)][-1]
        for query in (
            "",
            "?limit=2",
            "?limit=0",
            "?q=SPR",
            "?colour=blue",
            "?ordering=-id",
            "?ordering=x",
            "?cursor=x",
        ):
            scribe.ask("GET", path + query)
        for address in (f"{path}{key}/", f"{path}{key}/?x=1", f"{path}nothing/"):
            scribe.ask("GET", address)
        scribe.ask("PUT", path, {})
        scribe.ask("DELETE", f"{path}{key}/")
    for resource in WRITABLE:
        body = resource.body()
        for _, wrong in WRONG:
            scribe.ask("POST", f"{resource.name}/", {**body, **wrong} if isinstance(wrong, dict) else wrong)
        scribe.ask("POST", f"{resource.name}/", dict.fromkeys(body))
        made = scribe.ask("POST", f"{resource.name}/", body, IDEMPOTENCY_KEY=f"{resource.name}-1")
        scribe.ask("POST", f"{resource.name}/", body, IDEMPOTENCY_KEY=f"{resource.name}-1")
        scribe.ask("POST", f"{resource.name}/", body)
        if resource.change and made.status_code == 201:
            change(scribe, made["Location"].split(API)[1], resource.change)


def change(scribe: Scribe, path: str, body: dict[str, Any]) -> None:
    tag = scribe.ask("GET", path)["ETag"]
    scribe.ask("PATCH", path, body)
    scribe.ask("PATCH", path, {"colour": "blue"}, IF_MATCH=tag)
    scribe.ask("PATCH", path, body, IF_MATCH=tag)
    scribe.ask("PATCH", path, body, IF_MATCH=tag)
    scribe.ask("DELETE", path, IF_MATCH=tag)
    scribe.ask("DELETE", path, IF_MATCH=scribe.ask("GET", path).get("ETag", ""))


def movements(scribe: Scribe) -> None:
    """What the shelf allows and what it does not, with the ways out."""
    item: dict[str, Any] = {"item": "SPR-1", "storeroom": "MAIN"}
    one = {**item, "quantity": 1}
    bodies: list[tuple[str, dict[str, Any]]] = [
        ("movements/", {"kind": "receipt", **one, "quantity": 20, "reference": "D-1", "unit_cost": "38.50"}),
        ("movements/", {"kind": "receipt", **one, "quantity": 20, "reference": "D-1", "unit_cost": "38.50"}),
        ("movements/", {"kind": "receipt", **one, "quantity": 21, "reference": "D-1"}),
        ("reservations/", {**one, "quantity": 500, "work_order": "WO-1"}),
        ("movements/", {"kind": "issue", **one, "quantity": 21}),
        ("movements/", {"kind": "issue", **one, "quantity": 5_000}),
        (
            "movements/",
            {"kind": "issue", **one, "quantity": 30, "work_order": "WO-2", "override": {"reason": "stands"}},
        ),
        ("movements/", {"kind": "issue", **one, "work_order": "WO-1", "expected_back_on": "2026-04-01"}),
        ("movements/", {"kind": "return", **one, "reason_code": "did_not_fit"}),
        ("movements/", {"kind": "return", **one, "reason_code": "did_not_fit", "condition": "new"}),
        ("movements/", {"kind": "scrap", **one, "condition": "on_hold", "reason_code": "written_off"}),
        ("movements/", {"kind": "transfer", **one, "to_storeroom": "NORTH"}),
        ("movements/", {"kind": "transfer", **one, "to_storeroom": "MAIN"}),
        ("movements/", {"kind": "count", **item, "counted": 480, "seen": 470}),
        ("movements/", {"kind": "count", **item, "counted": 0}),
        ("movements/found/", {**one, "quantity": 3, "work_order": "WO-3"}),
        ("movements/not-there/", {**item, "work_order": "WO-3"}),
        ("movements/", {"kind": "issue", **one, "quantity": 10**30}),
        ("movements/", {"kind": "issue", **one, "quantity": -0.0}),
        ("movements/", {"kind": "issue", **one, "work_order": "\u0000"}),
        ("movements/", {"kind": "issue", **one, "work_order": "W" * 61}),
        ("movements/", {"kind": "issue", **one, "occurred_at": "2031-01-01T00:00:00Z"}),
        ("movements/", {"kind": "issue", **one, "occurred_at": "2026-01-01T00:00:00"}),
    ]
    for path, body in bodies:
        made = scribe.ask("POST", path, body)
        if made.status_code == 201 and path == "movements/":
            number = made.json()["id"]
            if body["kind"] in ("transfer", "count", "return"):
                for _ in range(2):
                    scribe.ask("POST", f"movements/{number}/reverse/", {"reason": "typed wrongly"})
        scribe.ask("GET", "stock/?item=SPR-1")
    for query in (
        "kind=issue,scrap",
        "change__gte=1",
        "change__gte=x",
        "work_order=WO-1",
        "item=SPR-1&limit=3",
        "kind=x",
    ):
        scribe.ask("GET", f"movements/?{query}")
    scribe.ask("GET", "stock/?as_of=2026-03-02T08:10:00Z")
    scribe.ask("GET", "items/SPR-1/movements/")


def feed(scribe: Scribe, client: Any) -> None:
    """Jobs and orders told out of order, twice, and of places that nobody knows."""
    scribe.client = client
    for number, (status, version) in enumerate(
        [("open", 1), ("closed", 3), ("open", 2), ("closed", 3), ("open", 4)]
    ):
        body = {
            "title": "Sprocket worn",
            "kind": "corrective",
            "status": status,
            "position": "STEEP-EL1-P0" if number else "NOWHERE",
            "opened_at": "2026-03-01T06:00:00Z",
            "closed_at": "2026-03-02T06:00:00Z" if status == "closed" else None,
            "updated_at": f"2026-03-02T0{version}:00:00Z",
        }
        scribe.ask("PUT", "work-orders/cmms/WO-9/", body)
        scribe.ask("PUT", "work-orders/cmms/WO-9/", {**body, "updated_at": "yesterday", "colour": 1})
        order = {"item": "SPR-1", "storeroom": "MAIN", "quantity": 4, "received": number, "status": "open"}
        order |= {"ordered_at": "2026-02-01T06:00:00Z", "updated_at": body["updated_at"]}
        scribe.ask("PUT", "supply-orders/buying/PO-1/", order)
    for path in (
        "work-orders/",
        "work-orders/cmms/WO-9/",
        "supply-orders/",
        "inbound-messages/",
        "events/?limit=20",
        "events/?after=0",
    ):
        scribe.ask("GET", path)


def answers(scribe: Scribe) -> None:
    """What is worked out, and addresses that are not there."""
    for path in (
        "chains/",
        "chains/08B/",
        "chains/08B/tooth-form/?teeth=17",
        "chains/08B/tooth-form/?teeth=3",
        "chains/nothing/",
    ):
        scribe.ask("GET", path)
    part = {"chain": "08B", "strands": 1, "teeth": 17}
    scribe.ask("POST", "interchange/check/", {"required": part, "offered": part})
    scribe.ask("POST", "interchange/check/", {"required": {"item": "SPR-1"}, "offered": {"teeth": "many"}})
    for rate in (4.0, -1, 1e308, "x"):
        demand = {"model": "poisson", "rate_per_year": rate}
        target = {"kind": "fill_rate", "value": 0.95}
        body = {
            "demand": demand,
            "lead_time_days": 45,
            "lead_time_sd_days": 0,
            "order_quantity": 1,
            "target": target,
        }
        scribe.ask("POST", "stocking/evaluate/", body)
    for path in (
        "items/SPR-1/substitutes/",
        "positions/STEEP-EL1-P0/exposure/?item=SPR-1",
        "positions/STEEP-EL1-P0/substitutes/",
        "exposure/",
        "reorder-list/",
        "nowhere/",
    ):
        scribe.ask("GET", path)


def written() -> Iterator[list[Any]]:
    from django.utils import timezone
    from rest_framework.test import APIClient

    from api.models import AccessToken

    clients = []
    for role in ("manager", "integration"):
        client = APIClient(SERVER_NAME="localhost", raise_request_exception=False)
        _, secret = AccessToken.objects.issue(f"the {role} of the script", role=role)
        client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
        clients.append(client)
    scribe = Scribe(clients[0])
    timezone.now = lambda: scribe.now
    records(scribe)
    movements(scribe)
    answers(scribe)
    feed(scribe, clients[1])
    yield from scribe.lines


if __name__ == "__main__":
    django.setup()
    for line in written():
        print(json.dumps(line, sort_keys=True))

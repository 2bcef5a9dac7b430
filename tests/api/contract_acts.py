"""The examples of requests are sent to the demo plant, each act to a record that it can be done to."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from typing import Any
from urllib.parse import quote

from django.contrib.auth import get_user_model
from django.core.files.uploadedfile import SimpleUploadedFile

from api.edge.openapi.operations import operations
from api.models import Webhook
from api.webhooks.queueing import queue_test
from api.webhooks.secrets import encrypted, new_secret
from tests.jobs import run_queued_jobs

FIRST = ("send_supply_order", "book_movement", "reserve_part", "release_reservation")
"""What others need to be there comes first."""
MADE_BY = {
    "movements": "book_movement",
    "reservations": "reserve_part",
    "kits": "reserve_parts_of_job_as_kit",
    "count-tasks": "request_count",
    "requests": "record_request",
    "substitution-rules": "record_substitution_rule",
}
SENT = {"work-orders": ("maintenance", "WO-7001"), "supply-orders": ("purchasing", "PO-1")}
MERGED = "S-010442"
"""A second number of one part of the demo plant."""
SKIPPED = {"import_file", "create_feed", "subscribe_webhook"}
"""A file, and an address outside."""


def fill(client: Any) -> None:
    """A row in each of the lists that are empty on a plant where all goes well."""
    back = {"kind": "return", "item": "41-0135", "storeroom": "OM-MAIN", "quantity": 1}
    why = {"reason_code": "did_not_fit", "position": "OM-DSP-SC01-D1-DRV", "work_order": "WO-7000"}
    reading = {"position": "OM-DSP-SC01-D1-DRV", "at": "2026-11-20T06:00:00Z", "hours": 48_000}
    merged = {"into": "41-0215", "reason": "one part under two numbers"}
    sent = [
        client.post("/api/v1/movements/", back | why, format="json", HTTP_IDEMPOTENCY_KEY="fill-1"),
        client.put(
            "/api/v1/meter-readings/meters/R-0/", reading | {"updated_at": reading["at"]}, format="json"
        ),
        client.post("/api/v1/imports/?kind=areas&dry_run=true", {"file": areas()}, format="multipart"),
        client.post("/api/v1/items/LW-200817/merge/", merged, format="json", HTTP_IDEMPOTENCY_KEY="fill-2"),
    ]
    assert all(one.status_code < 300 for one in sent), [one.content for one in sent]
    owner = get_user_model().objects.get(pk=client.session["_auth_user_id"])
    url = "https://hooks.example.com/spares"
    webhook = Webhook.objects.create(url=url, secret=encrypted(new_secret()), owner_user=owner)
    queue_test(webhook)
    run_queued_jobs()


def areas() -> SimpleUploadedFile:
    return SimpleUploadedFile("areas.csv", b"plant,code,name\nOM,YARD,Yard\n", "text/csv")


@dataclass(frozen=True)
class Act:
    name: str
    path: str
    method: str
    address: str
    response: Any


class Acts:
    def __init__(self, client: Any, document: dict[str, Any]) -> None:
        self.client, self.numbers = client, count(7001)
        self.known = {
            one["operationId"]: (path, method, one)
            for path, method, one in operations(document)
            if method in ("post", "put")
        }

    def __iter__(self) -> Iterator[Act]:
        for name in [*FIRST, *(one for one in self.known if one not in FIRST)]:
            path, method, _ = self.known[name]
            address = None if name in SKIPPED or name.startswith("replace_") else self.address_of(path)
            if address is not None:
                yield Act(name, path, method, address, self.send(name, address))

    def send(self, name: str, address: str) -> Any:
        _, method, operation = self.known[name]
        content = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
        number = next(self.numbers)
        body = content.get("example", {})
        # A job of its own, so that one act does not use up what another needs.
        own = {"work_order": f"WO-{number}", "reference": f"R-{number}"}
        body = body | {name: value for name, value in own.items() if name in body}
        headers = {"HTTP_IDEMPOTENCY_KEY": f"example-{number}"}
        if method == "put":
            headers["HTTP_IF_MATCH"] = "*"
        return getattr(self.client, method)(address, body, format="json", **headers)

    def address_of(self, path: str) -> str | None:
        """The address of a record that was just made, or of the first in its list."""
        kind = path.removeprefix("/api/v1/").partition("/{")[0].strip("/")
        if "{source}" in path:
            source, external_id = SENT.get(kind, ("meters", "R-1"))
            return path.format(source=source, external_id=external_id)
        if path.endswith("merge/"):
            return path.format(id=MERGED)
        if "{" not in path:
            return path
        record = self.made(kind) or self.first(path)
        try:
            return path.format_map({name: quote(str(value), safe="") for name, value in record.items()})
        except KeyError:
            return None

    def made(self, kind: str) -> dict[str, Any]:
        if kind not in MADE_BY:
            return {}
        maker = MADE_BY[kind]
        response = self.send(maker, self.known[maker][0])
        return dict(response.json()) if response.status_code < 300 else {}

    def first(self, path: str) -> dict[str, Any]:
        rows = self.client.get(path.partition("{")[0], {"limit": 1}).json().get("results", [])
        return dict(rows[0]) if rows else {}

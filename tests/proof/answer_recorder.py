"""Send requests through Django's test client and keep each answer under a name that does not depend on its address."""

import csv
import json
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from io import StringIO
from itertools import count
from typing import Any

from django.apps import apps
from django.core.management import call_command, get_commands
from django.http import HttpResponseBase
from django.test import Client

API = "/api/v1/"
Body = Mapping[str, Any]


class Recorder:
    """`answers` by name: the status, and the body where it is JSON or CSV."""

    def __init__(self, clients: Mapping[str, Client], visitor: Client, *, at: datetime) -> None:
        self.clients, self.visitor = clients, visitor
        self.now = at.isoformat().replace("+00:00", "Z")
        self.answers: dict[str, dict[str, Any]] = {}
        self.keys = count(1)

    def get(self, name: str, path: str, query: Body | None = None, *, accept: str = "*/*") -> Any:
        return self.keep(name, calculated(self.clients["manager"], API + path, query, accept=accept))

    def send(
        self, name: str, path: str, body: Body, *, by: str = "manager", method: str = "post", etag: str = ""
    ) -> Any:
        headers = {"idempotency-key": f"saved-{next(self.keys)}"} if method == "post" else {}
        if etag:
            headers["if-match"] = etag
        forget_answers()
        call = getattr(self.clients[by], method)
        answer = call(API + path, json.dumps(body), content_type="application/json", headers=headers)
        return self.keep(name, answer)

    def page(self, address: str, name: str = "") -> None:
        """Only the status: what stands on a page is for people."""
        self.add(f"page {name or address}", {"status": calculated(self.visitor, address).status_code})

    def read(self, path: str) -> Any:
        """What stands at an address, without keeping it as an answer."""
        return self.clients["manager"].get(API + path).json()

    def etag_of(self, path: str) -> str:
        return str(self.clients["manager"].get(API + path)["ETag"])

    def all_records(self, path: str) -> list[Any]:
        """All records of a list, without keeping them as an answer."""
        found: list[Any] = []
        address = f"{path}?limit=500"
        while address:
            page = self.read(address)
            found += page["results"]
            address = (page["next"] or "").partition(API)[2]
        return found

    def keep(self, name: str, answer: HttpResponseBase) -> Any:
        body = body_of(answer)
        self.add(name, {"status": answer.status_code, "body": body})
        return body

    def add(self, name: str, kept: dict[str, Any]) -> None:
        if name in self.answers:
            raise ValueError(f"Two answers have the name {name!r}.")
        self.answers[name] = {"name": name, **kept}


def calculated(client: Client, address: str, query: Body | None = None, *, accept: str = "*/*") -> Any:
    """The answer; where a background job calculates it, once that has been carried out."""
    answer = client.get(address, query or {}, headers={"accept": accept})
    is_waiting = b'http-equiv="refresh"' in getattr(answer, "content", b"")
    if (answer.status_code == 202 or is_waiting) and "run_jobs" in get_commands():
        call_command("run_jobs", stdout=StringIO())
        answer = client.get(address, query or {}, headers={"accept": accept})
    return answer


def forget_answers() -> None:
    """The clock stands still, so an answer from before a change would seem to be as new as one from after it."""
    with suppress(LookupError):
        apps.get_model("api", "BackgroundJob").objects.all().delete()


def body_of(answer: Any) -> Any:
    kind, text = answer.get("Content-Type", ""), answer.getvalue().decode()
    if "json" in kind:
        return json.loads(text)
    return list(csv.DictReader(text.splitlines())) if "csv" in kind else None

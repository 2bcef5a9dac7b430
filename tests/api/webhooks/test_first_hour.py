"""The guide for integrators: every request that it shows is sent, in its order, to an empty service."""

import json
import re
import shlex
from dataclasses import dataclass, field
from io import StringIO
from typing import Any

from django.core.management import call_command
from rest_framework.test import APIClient

from api.models import Webhook
from api.screens.contract.written import FOLDER
from tests.api.webhooks.receiver import Receiver
from tests.api.webhooks.subscribing import deliver

HERE = "http://testserver/api/v1"
ELSEWHERE = "https://hooks.example.com/spares"
STATUS = re.compile(r"  # ([1-5][0-9]{2})\n")
VARIABLE = re.compile(r"\$(\w+)")
METHODS = {"POST", "PUT", "PATCH", "DELETE"}


@dataclass
class Reader:
    """Types what the guide says into a shell."""

    client: APIClient
    names: dict[str, str] = field(default_factory=dict)
    answers: list[Any] = field(default_factory=list)

    def answer_of(self, part: str) -> Any:
        """The last answer of an address with this in it."""
        found = [
            one
            for one in self.answers
            if part in one.request["PATH_INFO"] + "?" + one.request["QUERY_STRING"]
        ]
        return found[-1].json()

    def type_in(self, block: str) -> None:
        *commands, rest = re.split(STATUS, block)
        for command, status in zip(commands[::2], commands[1::2], strict=True):
            response = self.run(command.strip())
            assert response.status_code == int(status), (command, response.content)
        for line in filter(None, rest.splitlines()):
            name, _, value = line.partition("=")
            assert name.isupper(), line
            self.names[name] = token_of(value) if "api_token" in value else HERE

    def run(self, command: str) -> Any:
        kept = re.fullmatch(r"(\w+)=\$\((.*)\)", command, re.DOTALL)
        asked, *piped = (kept.group(2) if kept else command).split(" | ")
        response = self.curl(asked)
        if kept:
            self.names[kept.group(1)] = taken(" | ".join(piped), response)
        return response

    def value(self, found: re.Match[str]) -> str:
        return self.names[found.group(1)].replace('"', r"\"")

    def curl(self, text: str) -> Any:
        words = shlex.split(VARIABLE.sub(self.value, text))
        assert words.pop(0) == "curl"
        method, address, body, headers = "GET", "", "", {}
        while words:
            word = words.pop(0)
            if word == "-X":
                method = words.pop(0)
            elif word == "-H":
                name, _, value = words.pop(0).partition(": ")
                headers[name] = value
            elif word == "-d":
                body = words.pop(0)
            elif word in ("-D", "-o"):
                words.pop(0)
            elif not word.startswith("-"):
                address = word
        assert method == "GET" or method in METHODS
        kind = headers.pop("Content-Type", "application/json")
        assert not body or json.loads(body)
        response = self.client.generic(method, address, body, content_type=kind, headers=headers)
        self.answers.append(response)
        return response


def token_of(command: str) -> str:
    words = shlex.split(command.partition("manage.py ")[2].partition(" | ")[0])
    said = StringIO()
    call_command(*words, stdout=said)
    return said.getvalue().split()[-1]


def taken(pipe: str, response: Any) -> str:
    """What `jq` or `awk` takes out of the answer."""
    if pipe.startswith("awk"):
        return str(response["ETag"])
    member = pipe.rpartition(".")[2]
    assert pipe in (f"jq .{member}", f"jq -r .{member}"), pipe
    return str(response.json()[member])


def blocks(language: str) -> list[str]:
    text = (FOLDER / "first_hour.md").read_text(encoding="utf-8")
    return re.findall(rf"```{language}\n(.*?)```", text, re.DOTALL)


def test_every_request_of_the_guide_answers_as_it_says(db: None, receiver: Receiver) -> None:
    reader = Reader(APIClient())
    for block in blocks("sh"):
        reader.type_in(block.replace(ELSEWHERE, receiver.url()))
    sent = [answer.request for answer in reader.answers]
    found = {(one["REQUEST_METHOD"], one["PATH_INFO"].split("/")[3]) for one in sent}
    assert found >= {
        *(
            ("POST", kind)
            for kind in ("items", "drives", "positions", "reservations", "movements", "webhooks")
        ),
        *(("PUT", "work-orders"), ("PATCH", "items"), ("GET", "events")),
    }
    replayed = [answer for answer in reader.answers if answer.headers.get("Idempotency-Replayed")]
    assert len(replayed) == 1
    substitutes = reader.answer_of("substitutes")["results"]
    assert [(one["item"]["stock_number"], one["verdict"]["grade"]) for one in substitutes] == [
        ("HB-1019", "drop_in"),
        ("HB-1020", "with_work"),
    ]
    closed = [answer for answer in reader.answers if answer.request["REQUEST_METHOD"] == "PUT"][-1]
    assert [one["code"] for one in closed.json()["notes"]] == ["booked_for_order_before"]
    lives = reader.answer_of("installations/?position")["results"]
    assert sorted((one["item"], one["ended_by"]) for one in lives if one["ended_by"]) == [
        ("HB-1019", "failure")
    ]
    assert len(lives) == 2
    assert [one["on_hand"] for one in reader.answer_of("stock/?item=HB-1019&storeroom")["results"]] == [1]
    known: dict[str, Any] = {}
    (code,) = blocks("python")
    exec(code, known)
    deliver(Webhook.objects.get())
    got, secret = receiver.got[0], reader.names["SECRET"]
    types = {one.verified(secret)["type"] for one in receiver.got}
    assert types == {"stock.moved", "work_order.changed"}
    assert known["is_genuine"](secret, got.headers, got.body)
    assert not known["is_genuine"](secret, got.headers, got.body + b" ")

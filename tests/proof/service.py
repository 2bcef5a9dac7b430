"""The service as it is run, in processes of its own, to be killed and to lose its database."""

import http.client
import json
import os
import signal
import socket
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

import psycopg

from tests.programs import Program, completed

STARTS_WITHIN_SECONDS = 60
FORM_TOKEN = "f" * 32


class NoAnswer(Exception):  # noqa: N818 - reads as what happened
    """The connection broke: whether there was an effect is not known."""


@dataclass(frozen=True)
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


class Service:
    def __init__(self, url: str, token: str, **surroundings: str) -> None:
        self.url, self.token, self.more = url, token, surroundings
        self.port = free_port()
        self.process: Program | None = None

    @property
    def surroundings(self) -> dict[str, str]:
        return surroundings(self.url, **self.more)

    def start(self, application: str = "api.wsgi", workers: int = 2, threads: int = 8) -> None:
        bind = f"127.0.0.1:{self.port}"
        command = ["-m", "gunicorn", application, "-b", bind, "-w", str(workers), "--threads", str(threads)]
        if "SCHEDULER_INSIDE" not in self.more:
            command.append("--preload")  # The application is loaded once for all workers.
        self.process = Program(tuple(command), self.surroundings, is_heard=False)
        self.wait_until(lambda: self.get("/healthz", auth=False).status == 200)

    def wait_until(self, claim: Any) -> None:
        ends = time.monotonic() + STARTS_WITHIN_SECONDS
        while time.monotonic() < ends:
            try:
                if claim():
                    return
            except NoAnswer:
                pass
            time.sleep(0.1)
        raise AssertionError("The service did not come to that in time.")

    def kill(self) -> None:
        """Every process of it, as the power cut does."""
        if self.process is not None:
            with suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None

    def ask(
        self,
        method: str,
        path: str,
        body: Any = None,
        *,
        auth: bool = True,
        timeout: float = 60,
        **headers: str,
    ) -> Answer:
        """A body of text goes as it is, any other as JSON."""
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        sent |= {"Authorization": f"Bearer {self.token}"} if auth else {}
        if body is not None and not isinstance(body, str):
            body, sent["Content-Type"] = json.dumps(body), "application/json"
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            connection.request(method, path, body, sent)
            answer = connection.getresponse()
            return Answer(answer.status, dict(answer.getheaders()), answer.read())
        except (OSError, http.client.HTTPException) as error:
            raise NoAnswer(str(error)) from error
        finally:
            connection.close()

    def get(self, path: str, **more: Any) -> Answer:
        return self.ask("GET", path, **more)

    def move(self, kind: str, key: str, **more: Any) -> Answer:
        """Book a movement of one piece of SPR-1 in MAIN."""
        headers = {"Idempotency_Key": key, **more.pop("headers", {})}
        body = {"kind": kind, "item": "SPR-1", "storeroom": "MAIN", "quantity": 1, **more}
        return self.ask("POST", "/api/v1/movements/", body, **headers)

    def page(self, session: str, path: str, fields: dict[str, str] | None = None, **headers: str) -> Answer:
        """A page, or the answer to its form, as a browser with this session gets it."""
        cookies = {"Cookie": f"sessionid={session}; csrftoken={FORM_TOKEN}"}
        if fields is None:
            return self.ask("GET", path, auth=False, **cookies, **headers)
        sent = urlencode({**fields, "csrfmiddlewaretoken": FORM_TOKEN})
        form = {"Content_Type": "application/x-www-form-urlencoded"}
        return self.ask("POST", path, sent, auth=False, **cookies, **form, **headers)

    def on_hand(self) -> int:
        return int(self.get("/api/v1/stock/?item=SPR-1&storeroom=MAIN").json["results"][0]["on_hand"])

    def movements(self) -> int:
        """How many entries there are, page by page."""
        path, found = "/api/v1/movements/?limit=500", 0
        while path:
            page = self.get(path).json
            found += len(page["results"])
            path = (page["next"] or "").replace(f"http://127.0.0.1:{self.port}", "")
        return found


@contextmanager
def running(url: str, token: str, application: str = "api.wsgi", **more: str) -> Iterator[Service]:
    service = Service(url, token, **more)
    try:
        service.start(application)
        yield service
    finally:
        service.kill()


def surroundings(url: str, **more: str) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("DJANGO")}
    return {
        **kept,
        "DATABASE_URL": url,
        "DJANGO_SETTINGS_MODULE": "api.settings",
        "LOG_LEVEL": "CRITICAL",
        **more,
    }


def program(url: str, *words: str, timeout: float = 180, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a Python program of the house to its end, whatever that is."""
    return completed(words, surroundings(url, **more), timeout=timeout)


def verified(url: str) -> str:
    """The last line of `verify_ledger`."""
    return program(url, "manage.py", "verify_ledger").stdout.strip().splitlines()[-1]


def number_of(url: str, query: str) -> int:
    """What the database itself says, past the service."""
    if url.startswith("sqlite"):
        with closing(sqlite3.connect(url.removeprefix("sqlite:///"))) as file:
            return int(file.execute(query).fetchone()[0])
    with psycopg.connect(url) as server:
        row = server.execute(query.encode()).fetchone()
        return int(row[0]) if row else 0


def write_past_service(url: str, *statements: str) -> None:
    """As a test does what else takes hours."""
    if url.startswith("sqlite"):
        with closing(sqlite3.connect(url.removeprefix("sqlite:///"), timeout=60)) as file, file:
            for one in statements:
                file.execute(one)
        return
    with psycopg.connect(url) as server:
        for one in statements:
            server.execute(one.encode())


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])

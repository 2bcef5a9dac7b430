"""Clients that take pieces out, over HTTP and past the service, each in a process of its own until a moment in time."""

import json
import socket
import sqlite3
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Any

import psycopg

ANSWERED_WITHIN_SECONDS = 60.0
Take = Callable[[], bool]
"""One transaction; whether a piece was taken."""


@dataclass(frozen=True)
class Answer:
    status: int
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


class HttpClient:
    """One connection that is kept open, as an integration keeps it; little work of its own beside what it measures."""

    def __init__(self, port: int, token: str) -> None:
        self.port = port
        self.head = (
            "POST /api/v1/movements/ HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
            f"Authorization: Bearer {token}\r\n"
        )
        self.wire: socket.socket | None = None

    def send(self, key: str, body: dict[str, Any]) -> None:
        text = json.dumps(body)
        if self.wire is None:
            self.wire = socket.create_connection(("127.0.0.1", self.port), ANSWERED_WITHIN_SECONDS)
        self.wire.sendall(
            f"{self.head}Idempotency-Key: {key}\r\nContent-Length: {len(text)}\r\n\r\n{text}".encode()
        )

    def answer(self) -> Answer:
        assert self.wire is not None
        data = b""
        while b"\r\n\r\n" not in data:
            data += self._more()
        head, _, body = data.partition(b"\r\n\r\n")
        lines = head.lower().split(b"\r\n")
        length = next(int(line[15:]) for line in lines if line.startswith(b"content-length:"))
        while len(body) < length:
            body += self._more()
        if b"connection: close" in lines:
            self.drop()
        return Answer(int(head[9:12]), body)

    def post(self, key: str, body: dict[str, Any]) -> Answer:
        """Sent again on a new connection where the server had closed the idle one: the key makes that harmless."""
        try:
            self.send(key, body)
            return self.answer()
        except OSError:
            self.drop()
            self.send(key, body)
            return self.answer()

    def drop(self) -> None:
        if self.wire is not None:
            self.wire.close()
            self.wire = None

    def _more(self) -> bytes:
        assert self.wire is not None
        found = self.wire.recv(65_536)
        if not found:
            raise ConnectionError("The server closed the connection.")
        return found


def raw_postgresql(url: str, shelves: Sequence[int]) -> Take:
    """What a database does for an issue at least: lock the row, look, change it, append the line, commit."""
    server = psycopg.connect(url)
    chosen = Turn(shelves)

    def take() -> bool:
        pk = chosen.next()
        row = server.execute("SELECT on_hand FROM raw_level WHERE id = %s FOR UPDATE", [pk]).fetchone()
        if row is None or row[0] < 1:
            server.rollback()
            return False
        server.execute("UPDATE raw_level SET on_hand = on_hand - 1 WHERE id = %s", [pk])
        server.execute(
            "INSERT INTO raw_entry (level_id, change, balance_after, at) VALUES (%s, -1, %s, now())",
            [pk, row[0] - 1],
        )
        server.commit()
        return True

    return take


def raw_sqlite(url: str, shelves: Sequence[int]) -> Take:
    file = sqlite3.connect(url.removeprefix("sqlite:///"), timeout=30, isolation_level=None)
    file.execute("PRAGMA journal_mode=WAL")
    file.execute("PRAGMA synchronous=FULL")
    chosen = Turn(shelves)

    def take() -> bool:
        pk = chosen.next()
        file.execute("BEGIN IMMEDIATE")
        row = file.execute("SELECT on_hand FROM raw_level WHERE id = ?", [pk]).fetchone()
        if row is None or row[0] < 1:
            file.execute("ROLLBACK")
            return False
        file.execute("UPDATE raw_level SET on_hand = on_hand - 1 WHERE id = ?", [pk])
        file.execute(
            "INSERT INTO raw_entry (level_id, change, balance_after, at) VALUES (?, -1, ?, datetime('now'))",
            [pk, row[0] - 1],
        )
        file.execute("COMMIT")
        return True

    return take


class Turn:
    def __init__(self, choices: Sequence[Any]) -> None:
        self.choices, self.at = choices, 0

    def next(self) -> Any:
        self.at += 1
        return self.choices[self.at % len(self.choices)]


def take_until(until: float, begin: float, make: Callable[..., Take], *of: Any) -> list[float]:
    """Seconds that each took in which a piece was taken; what began before `begin` only warms up."""
    take, times = make(*of), []
    while (began := time.monotonic()) < until:
        if take() and began >= begin:
            times.append(time.monotonic() - began)
    return times


def at_once(clients: Sequence[tuple[Any, ...]], seconds: float, warming: float = 1.0) -> list[float]:
    """The times of all clients, each a function that makes a `Take` with its arguments, for so many seconds."""
    begin = time.monotonic() + warming
    with get_context("fork").Pool(len(clients)) as pool:
        found = pool.starmap(take_until, [(begin + seconds, begin, *client) for client in clients])
    return [one for many in found for one in many]

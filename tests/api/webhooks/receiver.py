"""A real receiver on this machine: answers by a script and keeps what it was sent."""

import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any

from standardwebhooks import Webhook as Verifier

Script = Callable[["Handler"], None]


@dataclass
class Received:
    path: str
    headers: dict[str, str]
    body: bytes

    @property
    def id(self) -> str:
        return self.headers["webhook-id"]

    def verified(self, secret: str) -> Any:
        """The content, if the general library accepts the signature."""
        return Verifier(secret).verify(self.body, self.headers)


@dataclass
class Receiver:
    port: int
    script: list[Script] = field(default_factory=list)
    got: list[Received] = field(default_factory=list)

    def url(self, path: str = "/hook") -> str:
        return f"http://127.0.0.1:{self.port}{path}"


class Handler(BaseHTTPRequestHandler):
    receiver: Receiver
    protocol_version = "HTTP/1.1"

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["content-length"]))
        headers = {name.lower(): value for name, value in self.headers.items()}
        self.receiver.got.append(Received(self.path, headers, body))
        step = self.receiver.script.pop(0) if self.receiver.script else answers(200)
        try:
            step(self)
        except OSError:  # The sender hung up.
            self.close_connection = True

    def log_message(self, *args: Any) -> None:
        pass


def answers(status: int, **headers: str) -> Script:
    def step(handler: Handler) -> None:
        handler.send_response(status)
        for name, value in headers.items():
            handler.send_header(name.replace("_", "-"), value)
        handler.send_header("content-length", "0")
        handler.end_headers()

    return step


@contextmanager
def receiving(
    *script: Script, ssl_context: Any = None, host: str = "127.0.0.1", port: int = 0
) -> Iterator[Receiver]:
    class Server(ThreadingHTTPServer):
        daemon_threads = True
        address_family = socket.AF_INET

        def handle_error(self, *args: Any) -> None:
            pass

    handler = type("Bound", (Handler,), {})
    server = Server((host, port), handler)
    if ssl_context is not None:
        server.socket = ssl_context.wrap_socket(server.socket, server_side=True)
    receiver = Receiver(server.server_address[1], list(script))
    handler.receiver = receiver  # type: ignore[attr-defined]
    thread = Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    thread.start()
    try:
        yield receiver
    finally:
        server.shutdown()
        server.server_close()

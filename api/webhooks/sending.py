"""One attempt over the network: to the checked IP address, with limits of time and size, without redirects.

`http.client` is used because it connects through a socket that is made here, knows no proxies and follows no
redirects; the general clients look the name up again when they connect.
"""

import contextlib
import http.client
import socket
import ssl
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass
from email.utils import parsedate_to_datetime
from functools import cache

from django.conf import settings
from django.utils import timezone

from api.webhooks.addresses import AddressRefused, IpAddress, Target, read_address, resolve

READ_SECONDS = 10.0
MOST_READ_BYTES = 65_536
LONGEST_PAUSE_SECONDS = 86_400.0
# Statuses that ask for a pause; Standard Webhooks names 429, 502 and 504, RFC 9110 gives 503 a Retry-After.
ASKS_FOR_PAUSE = frozenset({429, 502, 503, 504})
GONE = 410


@dataclass(frozen=True)
class DeliveryAnswer:
    """The result of an attempt. Without a status there was no answer; `error` says why."""

    status: int | None = None
    error: str = ""
    pause_seconds: float | None = None

    @property
    def is_accepted(self) -> bool:
        return self.status is not None and 200 <= self.status < 300


class PinnedConnection(http.client.HTTPConnection):
    """Connects to a checked IP address, with the host name in the header and for the certificate."""

    def __init__(self, target: Target, number: IpAddress, seconds: float) -> None:
        super().__init__(target.host, target.port, timeout=min(READ_SECONDS, seconds))
        self.target, self.number = target, number
        # Kept beside `sock`, which is forgotten while an answer that closes the connection is still being read.
        self.held: socket.socket | None = None

    def connect(self) -> None:
        self.held = self.sock = socket.create_connection((str(self.number), self.target.port), self.timeout)
        if self.target.is_secure:
            # The handshake begins once the watchdog can see the socket.
            context = secure_context(settings.WEBHOOK_CA_FILE)
            self.held = self.sock = wrapped = context.wrap_socket(
                self.sock, server_hostname=self.target.host, do_handshake_on_connect=False
            )
            wrapped.do_handshake()

    def cut(self) -> None:
        """End the connection from another thread."""
        if self.held is not None:
            with contextlib.suppress(OSError):
                socket.socket.shutdown(self.held, socket.SHUT_RDWR)


@cache
def secure_context(authority_file: str) -> ssl.SSLContext:
    context = ssl.create_default_context()
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    if authority_file:
        context.load_verify_locations(authority_file)
    return context


def send(url: str, body: bytes, headers: Mapping[str, str]) -> DeliveryAnswer:
    """Try once. Whatever goes wrong is in the answer, never an exception."""
    deadline = time.monotonic() + settings.WEBHOOK_TIMEOUT_SECONDS
    try:
        target = read_address(url)
        numbers = resolve(target)
    except AddressRefused as refusal:
        return DeliveryAnswer(error=str(refusal))
    answer = DeliveryAnswer(error=f"The host {target.host} has no address.")
    for number in numbers:
        seconds = deadline - time.monotonic()
        if seconds <= 0:
            return DeliveryAnswer(error=too_slow())
        answer, reached = attempt(PinnedConnection(target, number, seconds), body, headers, seconds)
        if reached:
            break
    return answer


def attempt(
    connection: PinnedConnection, body: bytes, headers: Mapping[str, str], seconds: float
) -> tuple[DeliveryAnswer, bool]:
    """The answer, and whether the host was reached; if not, its next address is tried."""
    expired = threading.Event()

    def end() -> None:
        expired.set()
        connection.cut()

    watchdog = threading.Timer(seconds, end)
    watchdog.daemon = True
    watchdog.start()
    try:
        connection.connect()
        response = exchange(connection, body, headers)
        if expired.is_set():
            raise TimeoutError  # The head of the answer was cut off, which reads like its end.
        return answer_of(response), True
    except (OSError, http.client.HTTPException, ValueError) as error:
        reached = connection.held is not None
        slow = expired.is_set() or isinstance(error, TimeoutError)
        return DeliveryAnswer(error=too_slow() if slow else f"No answer: {reason_of(error)}."), reached
    finally:
        watchdog.cancel()
        connection.close()


def exchange(
    connection: PinnedConnection, body: bytes, headers: Mapping[str, str]
) -> http.client.HTTPResponse:
    target = connection.target
    connection.request("POST", target.path, body, {"host": target.host_header, **headers})
    return connection.getresponse()


def answer_of(response: http.client.HTTPResponse) -> DeliveryAnswer:
    pause = pause_of(response) if response.status in ASKS_FOR_PAUSE else None
    with contextlib.suppress(OSError, http.client.HTTPException):
        response.read(MOST_READ_BYTES)  # Read so that the receiver is not cut off; the content is not used.
    accepted = 200 <= response.status < 300
    return DeliveryAnswer(response.status, "" if accepted else refusal_of(response.status), pause)


def refusal_of(status: int) -> str:
    if 300 <= status < 400:
        return f"It answered {status}; redirects are not followed: enter the new address."
    return f"It answered {status}."


def pause_of(response: http.client.HTTPResponse) -> float | None:
    """Retry-After (RFC 9110, 10.2.3): seconds or a date; at most a day."""
    text = (response.headers.get("Retry-After") or "").strip()
    if text.isascii() and text.isdigit():
        return min(float(text[:9]), LONGEST_PAUSE_SECONDS)
    try:
        until = parsedate_to_datetime(text)
        seconds = (until - timezone.now()).total_seconds()
    except (TypeError, ValueError, OverflowError):
        return None
    return min(max(seconds, 0.0), LONGEST_PAUSE_SECONDS)


def too_slow() -> str:
    return f"No answer within {settings.WEBHOOK_TIMEOUT_SECONDS} s."


def reason_of(error: Exception) -> str:
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"its certificate does not hold ({error.verify_message})"
    if isinstance(error, ConnectionRefusedError):
        return "it refuses connections"
    return (getattr(error, "strerror", "") or type(error).__name__)[:100]

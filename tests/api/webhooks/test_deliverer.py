"""The deliverer as a process of its own, on the database itself."""

import time
from collections.abc import Callable
from pathlib import Path
from threading import Event as Signal
from typing import Any

import pytest

from tests.api.webhooks.receiver import Handler, answers, receiving
from tests.api.webhooks.subscribing import SECRET, happen, subscribe
from tests.processes import begin, manage, shared_database

pytestmark = pytest.mark.django_db(transaction=True)
DELIVER = ("manage.py", "deliver_webhooks")


def opened(*ports: int, seconds: int = 20) -> dict[str, str]:
    return {
        "WEBHOOK_ALLOW_HTTP": "true",
        "WEBHOOK_PORTS": ",".join(str(port) for port in ports),
        "WEBHOOK_ALLOWED_HOSTS": "127.0.0.1",
        "WEBHOOK_TIMEOUT_SECONDS": str(seconds),
    }


def wait_for(condition: Callable[[], Any], seconds: float = 30) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "It did not happen in time."
        time.sleep(0.05)


def test_the_command_sends_what_waits_and_ends(tmp_path: Path) -> None:
    with receiving() as receiver:
        subscribe(receiver.url())
        for n in range(5):
            happen(f"item/{n}")
        url = shared_database(tmp_path)
        found = manage(url, *DELIVER[1:], **opened(receiver.port))
        assert (found.returncode, found.stdout.strip()) == (0, "Attempts: 5."), found.stderr
        assert len({got.id for got in receiver.got}) == 5
        assert all(got.verified(SECRET) for got in receiver.got)
        assert manage(url, *DELIVER[1:], **opened(receiver.port)).stdout.strip() == "Attempts: 0."


def test_a_deliverer_killed_between_sending_and_recording_loses_nothing(tmp_path: Path) -> None:
    arrived, killed = Signal(), Signal()

    def answer_after_the_kill(handler: Handler) -> None:
        arrived.set()
        killed.wait(30)
        answers(200)(handler)

    with receiving(answer_after_the_kill) as receiver:
        subscribe(receiver.url())
        happen()
        url = shared_database(tmp_path)
        first = begin(url, *DELIVER, **opened(receiver.port, seconds=30))
        assert arrived.wait(30)
        first.kill()
        first.communicate()
        killed.set()
        # A claim is for the longest attempt and a margin; here it is made to run out at once.
        expire = (
            "from api.models import Delivery as D; print(D.objects.update(claimed_until='2026-01-01T00:00Z'))"
        )
        assert manage(url, "shell", "--no-imports", "-c", expire).stdout.strip() == "1"
        again = manage(url, *DELIVER[1:], **opened(receiver.port))
        assert again.stdout.strip() == "Attempts: 1.", again.stderr
    assert [got.id for got in receiver.got] == [receiver.got[0].id] * 2
    assert receiver.got[0].body == receiver.got[1].body


@pytest.mark.sqlite
def test_a_dead_endpoint_does_not_delay_the_others(tmp_path: Path) -> None:
    release = Signal()
    with receiving(*[lambda handler: release.wait(60)] * 20) as dead, receiving() as alive:  # type: ignore[list-item]
        subscribe(dead.url())
        subscribe(alive.url())
        for n in range(20):
            happen(f"item/{n}")
        url = shared_database(tmp_path)
        deliverer = begin(url, *DELIVER, "--loop", **opened(dead.port, alive.port, seconds=30))
        try:
            wait_for(lambda: len(alive.got) == 20)
            wait_for(lambda: len(dead.got) == 2)
            deliverer.terminate()
            time.sleep(1)
            release.set()
            assert deliverer.wait(60) == 0
            assert len(dead.got) == 2
        finally:
            release.set()
            deliverer.kill()
            deliverer.communicate()


def test_two_deliverers_share_the_work(tmp_path: Path) -> None:
    with receiving() as receiver:
        subscribe(receiver.url())
        for n in range(30):
            happen(f"item/{n % 10}")
        url = shared_database(tmp_path)
        both = [begin(url, *DELIVER, **opened(receiver.port)) for _ in range(2)]
        said = [one.communicate(timeout=90) for one in both]
        assert [one.returncode for one in both] == [0, 0], said
    assert len(receiver.got) == len({got.id for got in receiver.got}) == 30
    for n in range(10):
        told = [got.verified(SECRET) for got in receiver.got]
        assert [one["version"] for one in told if one["aggregate"] == f"item/{n}"] == [1, 2, 3]

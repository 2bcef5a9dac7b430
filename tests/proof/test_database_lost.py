"""The database goes away under load, fills up, or lets nobody write.

Proves, on PostgreSQL: while it restarts the service answers 503 with Retry-After and nothing else of 500 or above, takes up
its work again without a restart of its own, and has every movement that it had acknowledged, once. On both: a
database that may only be read answers reads with 200 and writes with 503. On SQLite: a full disk is answered with 503, leaves no half of a movement, lets reads through, and is over when there is space. Does not prove: a full disk of
PostgreSQL, which takes a file system of its own; replicas.
"""

import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection

from tests.proof.cluster import Cluster
from tests.proof.conftest import Prepared
from tests.proof.service import NoAnswer, Service, number_of, running, verified

ON_SQLITE = pytest.mark.skipif(connection.vendor != "sqlite", reason="needs SQLite")
CALLERS, AWAY_SECONDS = 4, 2.0
HINDERED = "tests.proof.hindered_wsgi"


class Load:
    """Callers who each book receipts one after the other until told to stop."""

    def __init__(self, service: Service) -> None:
        self.service = service
        self.stopping = threading.Event()
        self.acknowledged: list[str] = []
        self.unknown: list[str] = []
        self.answers: Counter[int] = Counter()
        self.strange: list[str] = []
        self.threads = [threading.Thread(target=self.call, args=(number,)) for number in range(CALLERS)]

    def call(self, caller: int) -> None:
        number = 0
        while not self.stopping.is_set():
            number += 1
            key = f"{caller}-{number}"
            try:
                answer = self.service.move("receipt", key)
            except NoAnswer:
                self.unknown.append(key)
                continue
            self.answers[answer.status] += 1
            if answer.status == 201:
                self.acknowledged.append(key)
                continue
            self.unknown.append(key)
            if answer.status != 503 or "Retry-After" not in answer.headers:
                self.strange.append(f"{answer.status} {answer.headers} {answer.body[:300]!r}")
            time.sleep(0.05)

    def __enter__(self) -> "Load":
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stopping.set()
        for thread in self.threads:
            thread.join()


@pytest.mark.postgresql
def test_a_restart_of_the_database_loses_nothing_that_was_acknowledged(
    prepared: Prepared, cluster: Cluster
) -> None:
    url = prepared.copy("restarted")
    with running(url, prepared.token) as service:
        with Load(service) as load:
            time.sleep(1.5)
            cluster.stop("immediate")
            time.sleep(AWAY_SECONDS)
            ready = service.get("/readyz", auth=False).status
            before = len(load.acknowledged)
            cluster.start()
            service.wait_until(lambda: len(load.acknowledged) > before + 20)
        assert ready == 503
        assert load.strange == []
        assert load.answers[503] > 0
        again = Counter(service.move("receipt", key).status for key in load.acknowledged[:50] + load.unknown)
        assert again == {201: min(50, len(load.acknowledged)) + len(load.unknown)}
        effects = len(load.acknowledged) + len(load.unknown)
        assert service.on_hand() == 500 + effects
    assert number_of(url, "SELECT count(*) FROM inventory_stockentry") == 1 + effects
    assert verified(url).endswith("0 differences")


@pytest.fixture
def read_only(prepared: Prepared) -> Iterator[Service]:
    """PostgreSQL refuses writes by a setting of the session, SQLite by one of the connection."""
    url, more = prepared.copy("read_only"), {}
    if connection.vendor == "postgresql":
        more["PGOPTIONS"] = "-c default_transaction_read_only=on"
    else:
        beside(url, "read_only").touch()
    with running(url, prepared.token, HINDERED, **more) as service:
        yield service


def beside(url: str, hindrance: str) -> Path:
    return Path(f"{url.removeprefix('sqlite:///')}.{hindrance}")


def test_a_database_that_may_only_be_read_is_read(read_only: Service) -> None:
    assert read_only.get("/api/v1/stock/?item=SPR-1").status == 200
    assert read_only.get("/readyz", auth=False).status == 200
    refused = read_only.move("issue", "k-1")
    assert (refused.status, refused.headers["Content-Type"]) == (503, "application/problem+json")
    assert "Retry-After" in refused.headers
    assert "takes no changes" in refused.json["detail"]
    assert (read_only.on_hand(), read_only.movements()) == (500, 1)


@ON_SQLITE
def test_a_full_disk_leaves_no_half_of_a_movement(prepared: Prepared) -> None:
    url = prepared.copy("full")
    pages = number_of(url, "PRAGMA page_count")
    with running(url, prepared.token, HINDERED) as service:
        beside(url, "full").write_text(str(pages + 4))
        assert service.on_hand() == 500
        answers = [service.move("receipt", f"k-{number}") for number in range(60)]
        refused = [answer for answer in answers if answer.status != 201]
        booked = len(answers) - len(refused)
        assert refused
        assert {answer.status for answer in refused} == {503}
        assert "no room left" in refused[-1].json["detail"]
        assert (service.on_hand(), service.movements()) == (500 + booked, 1 + booked)
        beside(url, "full").unlink()
        assert service.move("receipt", "k-59").status == 201
        assert service.on_hand() == 501 + booked
    assert verified(url).endswith("0 differences")

"""Sixteen clients at the service as it is run: two processes of gunicorn with threads, on either database.

Proves: of twice as many takers as pieces exactly half get one and the others a refusal in words; the same key from all has one
effect, and the same form too, all of whose senders read that it was done; one reversal succeeds; ways to and fro, counts and an import of a file do not disturb each other; no answer of 500
or above in any of it. The finer interleavings are storms of `tests/api/test_movement_storms.py` and
`tests/inventory/test_ledger_races.py`; 16 processes on one SQLite file: `tests/api/test_sqlite_storm.py`.
"""

import threading
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from django.db import connection

from tests.examples import IS_LONG
from tests.proof.conftest import Prepared
from tests.proof.service import Answer, Service, program, running, verified

pytestmark = pytest.mark.skipif(
    connection.vendor == "sqlite" and not IS_LONG,
    reason="PROOF=long storms the service over SQLite too",
)
CLIENTS = 16
Act = Callable[[], Answer]


@pytest.fixture
def service(prepared: Prepared, request: pytest.FixtureRequest) -> Iterator[Service]:
    url = prepared.copy(f"storm_{abs(hash(request.node.name)) % 10**9}")
    with running(url, prepared.token) as service:
        yield service
        assert verified(url).endswith("0 differences")


def storm(acts: list[Act]) -> Counter[int]:
    start = threading.Barrier(CLIENTS)

    def client(mine: list[Act]) -> list[int]:
        start.wait()
        return [act().status for act in mine]

    with ThreadPoolExecutor(CLIENTS) as pool:
        results = pool.map(client, [acts[number::CLIENTS] for number in range(CLIENTS)])
        return Counter(status for many in results for status in many)


def test_of_twice_as_many_takers_exactly_half_get_one(service: Service) -> None:
    assert service.move("issue", "first", quantity=400).status == 201
    acts = [lambda number=number: service.move("issue", f"k-{number}") for number in range(200)]
    assert storm(acts) == {201: 100, 409: 100}
    assert service.on_hand() == 0


def test_the_same_key_from_all_has_one_effect(service: Service) -> None:
    statuses = storm([lambda: service.move("issue", "the-key")] * 48)
    assert set(statuses) <= {201, 409}
    again = service.move("issue", "the-key")
    assert (again.status, again.headers["Idempotency-Replayed"]) == (201, "true")
    assert (service.on_hand(), service.movements()) == (499, 2)


def test_a_form_sent_many_times_at_once_is_booked_once(service: Service, prepared: Prepared) -> None:
    form = {"item": "SPR-1", "shelf": "MAIN/new", "quantity": "1", "key": "the-key"}
    acts = [lambda: service.page(prepared.session, "/counter/issue/", form)] * 32
    assert storm(acts) == {302: 32}
    assert (service.on_hand(), service.movements()) == (499, 2)


def test_a_movement_is_taken_back_once(service: Service) -> None:
    path = f"/api/v1/movements/{service.move('issue', 'first').json['id']}/reverse/"
    body = {"reason": "typed wrongly"}
    acts = [
        lambda number=number: service.ask("POST", path, body, Idempotency_Key=f"k-{number}")
        for number in range(32)
    ]
    assert storm(acts) == {201: 1, 409: 31}
    assert service.on_hand() == 500


def test_everything_at_once_adds_up(service: Service, tmp_path: Path) -> None:
    """48 issues, 48 ways to NORTH and 48 back, 16 counts that find one more, and 300 receipts from a file."""
    assert service.move("transfer", "first", quantity=100, to_storeroom="NORTH").status == 201
    path = tmp_path / "receipts.csv"
    rows = [f"receipt,SPR-1,MAIN,1,D-{number},2026-03-01T06:30:00Z" for number in range(300)]
    path.write_text("kind,item,storeroom,quantity,reference,occurred_at\n" + "\n".join(rows) + "\n")

    def act(number: int) -> Answer:
        key, turn = f"k-{number}", number % 10
        if turn < 3:
            return service.move("issue", key)
        if turn < 6:
            return service.move("transfer", key, to_storeroom="NORTH")
        if turn < 9:
            return service.move("transfer", key, storeroom="NORTH", to_storeroom="MAIN")
        counted = {"quantity": None, "counted": 301, "seen": 300}
        return service.move("count", key, **counted)

    bulk = threading.Thread(
        target=lambda: done.append(
            program(service.url, "manage.py", "import_records", "movements", str(path)).returncode
        )
    )
    done: list[int] = []
    bulk.start()
    statuses = storm([lambda number=number: act(number) for number in range(160)])
    bulk.join()
    assert (statuses, done) == ({201: 160}, [0])
    assert service.on_hand() == 400 - 48 + 16 + 300

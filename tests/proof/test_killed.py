"""The service dies in the middle: every process of it, by SIGKILL.

Proves: a movement whose commit did not come to an end has no trace; one that was committed and never answered is answered
as the first time when it is sent again with its key, and booked once, and so is a form of a page; an import leaves nothing or everything behind,
and the same file sent again completes it without doubles. Does not prove: a power cut of the database's own machine,
which is the database's promise (WAL, `synchronous=FULL`).
"""

import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection

from tests.examples import IS_LONG
from tests.proof.conftest import Prepared
from tests.proof.service import NoAnswer, Service, number_of, program, running, verified

DYING = "tests.proof.dying_wsgi"


pytestmark = pytest.mark.skipif(
    connection.vendor == "sqlite" and not IS_LONG,
    reason="PROOF=long kills the service over SQLite too",
)


@pytest.fixture
def service(prepared: Prepared, request: pytest.FixtureRequest) -> Iterator[Service]:
    name = "killed_" + "".join(letter for letter in request.node.name.lower() if letter.isalnum())[-40:]
    with running(prepared.copy(name), prepared.token, DYING) as service:
        yield service


@pytest.mark.parametrize(("when", "booked"), [("before", 0), ("after", 1)])
def test_a_movement_is_booked_once_whenever_the_service_dies(
    service: Service, when: str, booked: int
) -> None:
    with pytest.raises(NoAnswer):
        service.move("issue", "k-1", headers={"X_Die": when})
    service.kill()
    service.start(DYING)
    assert service.on_hand() == 500 - booked
    again = service.move("issue", "k-1")
    assert (again.status, again.json["balance_after"]) == (201, 499)
    assert again.headers.get("Idempotency-Replayed") == ("true" if booked else None)
    assert service.move("issue", "k-1").json["id"] == again.json["id"]
    assert (service.on_hand(), service.movements()) == (499, 2)
    assert verified(service.url).endswith("0 differences")


def test_a_form_whose_answer_was_lost_is_booked_once(service: Service, prepared: Prepared) -> None:
    form = {"item": "SPR-1", "shelf": "MAIN/new", "quantity": "1", "key": "k-1"}
    with pytest.raises(NoAnswer):
        service.page(prepared.session, "/counter/issue/", form, X_Die="after")
    service.kill()
    service.start(DYING)
    assert service.page(prepared.session, "/counter/issue/", form).status == 302
    assert b"SPR-1" in service.page(prepared.session, "/counter/shift/").body
    assert (service.on_hand(), service.movements()) == (499, 2)


def movements_file(folder: Path, rows: int) -> Path:
    path = folder / "movements.csv"
    lines = [f"receipt,SPR-1,MAIN,1,DELIVERY-{number},2024-03-05T06:30:00Z" for number in range(rows)]
    path.write_text("kind,item,storeroom,quantity,reference,occurred_at\n" + "\n".join(lines) + "\n")
    return path


def test_an_import_leaves_nothing_or_everything_behind(prepared: Prepared, tmp_path: Path) -> None:
    url, path = prepared.copy("import"), movements_file(tmp_path, 1_500)
    for statements in (1, 3, 5):
        died = program(url, "-m", "tests.proof.dying_import", str(statements), "movements", str(path))
        assert died.returncode == -signal.SIGKILL, died.stderr
        assert number_of(url, "SELECT count(*) FROM inventory_stockentry") == 1
    for _ in range(2):
        done = program(url, "manage.py", "import_records", "movements", str(path))
        assert done.returncode == 0, done.stdout + done.stderr
        assert number_of(url, "SELECT count(*) FROM inventory_stockentry") == 1_501
    assert number_of(url, "SELECT sum(on_hand) FROM inventory_stocklevel") == 2_000
    assert verified(url).endswith("0 differences")

"""The soak in short (`tests/proof/soak.py` says what it proves); `PROOF=long` takes more acts, and SQLite too.

Its comparison is tried as well: with an answer, an event of the feed and a delivery taken away it finds each.
"""

import pytest
from django.db import connection

from tests.examples import IS_LONG
from tests.proof.conftest import Prepared
from tests.proof.soak import Soak

ACTS, CLIENTS, KILLS = (5_000, 64, 30) if IS_LONG else (96, 8, 3)


@pytest.mark.skipif(
    connection.vendor == "sqlite" and not IS_LONG, reason="PROOF=long soaks the service over SQLite too"
)
def test_nothing_differs_after_server_scheduler_and_database_were_killed(
    prepared: Prepared, request: pytest.FixtureRequest
) -> None:
    cluster = request.getfixturevalue("cluster") if connection.vendor == "postgresql" else None
    soak = Soak(prepared.copy("soak"), ACTS, CLIENTS, KILLS, cluster, is_hurried=True)
    assert soak.run() == []
    assert set(soak.killed) == {"service", "scheduler", *(["database"] if cluster else [])}
    assert soak.asked_again > 0
    gone = next(mine for mine in soak.done if any(act.name == "receipt" for act in mine))
    gone.remove(next(act for act in gone if act.name == "receipt"))
    lost = soak.fed[0]
    found = "; ".join(soak.compare(soak.fed[1:], [one for one in soak.received if one != lost]))
    for difference in ("came in", "lines of the ledger", "the feed misses 1", "the receiver misses 1"):
        assert difference in found, found

"""The soak in short (`tests/proof/soak.py` says what it proves); `PROOF=long` takes more acts, and SQLite too.

Its comparison is tried as well: with an answer, an event of the feed and a delivery taken away, or a count told otherwise, it finds each.
"""

from copy import deepcopy
from typing import Any

import pytest
from django.db import connection

from tests.examples import IS_LONG
from tests.proof.conftest import Prepared
from tests.proof.soak import Soak
from tests.proof.soak_acts import WEIGHTS

ACTS, CLIENTS, KILLS = (5_000, 64, 30) if IS_LONG else (96, 8, 3)


@pytest.mark.skipif(
    connection.vendor == "sqlite" and not IS_LONG, reason="PROOF=long soaks the service over SQLite too"
)
def test_nothing_differs_after_server_scheduler_and_database_were_killed(
    prepared: Prepared, request: pytest.FixtureRequest
) -> None:
    cluster = request.getfixturevalue("cluster") if connection.vendor == "postgresql" else None
    soak = Soak(prepared.copy("soak"), ACTS, CLIENTS, KILLS, cluster, is_hurried=True)
    soak.run()
    told = soak.told()
    lost = soak.fed[0]
    spoiled = {
        "clients": told["clients"],
        "acts": [act for act in told["acts"] if act is not first(told, "receipt")],
        "fed": soak.fed[1:],
        "received": [one for one in soak.received if one != lost],
    }
    miscounted = deepcopy(told)
    first(miscounted, "record_count")["told"]["booked"] += 1
    gone = {**told, "acts": [act for act in told["acts"] if act is not first(told, "drop_count")]}
    found, *wrong = ("; ".join(one) for one in soak.differences(told, spoiled, miscounted, gone))
    assert (soak.strange, found) == ([], "")
    assert set(soak.killed) == {"service", "scheduler", *(["database"] if cluster else [])}
    assert {act["name"] for act in told["acts"] if act["is_done"]} == set(WEIGHTS)
    assert soak.asked_again > 0
    for difference in ("came in", "lines of the ledger", "the feed misses 1", "the receiver misses 1"):
        assert difference in wrong[0], wrong[0]
    assert "'state': 'counted'" in wrong[1], wrong[1]
    assert "'state': 'dropped'" in wrong[2], wrong[2]
    print({stage: round(seconds, 1) for stage, seconds in soak.seconds.items()})


def first(told: dict[str, Any], name: str) -> dict[str, Any]:
    """An act that took effect."""
    found: dict[str, Any] = next(act for act in told["acts"] if act["name"] == name and act["is_done"])
    return found

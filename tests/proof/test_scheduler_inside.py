"""One process alone serves and does the work: `SCHEDULER_INSIDE`.

Proves: a calculation that is requested over HTTP is carried out by the process that took the request, and where
that one was killed before, by the next one.
"""

from pathlib import Path

import pytest

from tests.proof.conftest import Prepared
from tests.proof.service import Service, program, running

EXPOSURE = "/api/v1/exposure/"
EXPIRE = 'from inventory.models import Lease; Lease.objects.update(until="2026-01-01T00:00:00Z")'


@pytest.mark.parametrize("is_killed", [pytest.param(False, marks=pytest.mark.sqlite), True])
def test_a_single_process_carries_out_its_jobs(prepared: Prepared, tmp_path: Path, is_killed: bool) -> None:
    url = prepared.copy(f"inside_{is_killed}".lower())
    with running(url, prepared.token, SCHEDULER_INSIDE=str(not is_killed).lower()) as service:
        accepted = service.get(EXPOSURE)
        assert (accepted.status, accepted.json["state"]) == (202, "queued")
        if is_killed:
            service.kill()
            program(url, "manage.py", "shell", "-c", EXPIRE)
            service.more["SCHEDULER_INSIDE"] = "true"
            service.start()
        service.wait_until(lambda: is_done(service, accepted.json["id"]))
        # A run of the night may have followed, after which the list is made once more.
        service.wait_until(lambda: service.get(EXPOSURE).status == 200)


def is_done(service: Service, job: int) -> bool:
    return bool(service.get(f"/api/v1/jobs/{job}/").json["state"] == "done")

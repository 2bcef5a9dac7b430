"""The process of a worker is killed in the middle of a job; the next worker finds the job and ends it.

Other processes do the work, on a database that they share: nothing is left to the memory of one.
"""

import io
import json
import signal
from pathlib import Path
from typing import Any

import pytest

from api.exchange.import_runs import request_import
from api.models import ImportRun
from api.operations.jobs.queue import Requester
from api.operations.jobs.recompute import request_recompute
from tests import factories as make
from tests.processes import begin, shared_database
from tests.programs import Program

pytestmark = pytest.mark.django_db(transaction=True)
INES = Requester("Ines", "user:1")
RULES = b"name,value\nheavy_mass_kg,2\nfast_driver_rpm,3.5\n"
WORKER = """
import os, signal, sys
from contextlib import contextmanager
from itertools import count
import django
import psycopg
django.setup()
from django.core.management import call_command
from django.db import connection
from inventory.models import Lease

place, table = int(sys.argv[1]), sys.argv[2]
writes = count(1)

def note(sql):
    if sql.startswith(("INSERT", "UPDATE", "COPY")) and f'"{table}"' in sql and next(writes) == place:
        os.kill(os.getpid(), signal.SIGKILL)

def die_after(execute, sql, *details):
    found = execute(sql, *details)
    note(sql)
    return found

copy = psycopg.Cursor.copy

@contextmanager
def copy_and_die(cursor, sql, *details, **more):
    with copy(cursor, sql, *details, **more) as writer:
        yield writer
    note(sql)

psycopg.Cursor.copy = copy_and_die

Lease.objects.update(until="2026-01-01T00:00:00Z")  # As if the time of the one before had run out.
with connection.execute_wrapper(die_after):
    call_command("run_jobs", stdout=sys.stderr)
"""
REPORT = """
import json
import django
django.setup()
from api.models import BackgroundJob, ImportFile, ImportRun
from inventory.models import Recommendation, Rule, StockingRun

job = BackgroundJob.objects.earliest("pk")  # A run has another follow it.
print(json.dumps({
    "job": [job.state, job.attempts, job.error],
    "import": ImportRun.objects.values_list("state", "written").first(),
    "files": ImportFile.objects.count(),
    "rules": Rule.objects.count(),
    "run": StockingRun.objects.values_list("state", "done", "total").first(),
    "current": Recommendation.objects.current().count(),
}))
"""


def killed(url: str, table: str, *, after: int = 1) -> dict[str, Any]:
    """What is there once a worker was killed after so many writes to a table."""
    worker = begin(url, "-c", WORKER, str(after), table)
    _, said = worker.communicate(timeout=120)
    assert worker.returncode == -signal.SIGKILL, said
    return state(begin(url, "-c", REPORT))


def carried_out(url: str) -> dict[str, Any]:
    """What is there once a worker came to its end."""
    return state(begin(url, "-c", WORKER + REPORT, "0", ""))


def state(process: Program) -> dict[str, Any]:
    said, errors = process.communicate(timeout=120)
    assert process.returncode == 0, errors
    found: dict[str, Any] = json.loads(said)
    return found


@pytest.fixture
def url(tmp_path: Path) -> str:
    """With one import in the queue."""
    request_import(
        ImportRun.objects.create(kind="rules", file_name="rules.csv", by_name="Ines"),
        io.BytesIO(RULES),
        by=INES,
    )
    return shared_database(tmp_path)


def test_an_import_that_is_killed_leaves_nothing_and_is_started_again(url: str) -> None:
    broken = killed(url, "inventory_rule")
    assert (broken["job"], broken["import"]) == (["running", 1, ""], ["running", False])
    assert (broken["rules"], broken["files"]) == (0, 1)
    done = carried_out(url)
    assert (done["job"], done["import"]) == (["done", 2, ""], ["done", True])
    assert (done["rules"], done["files"]) == (2, 0)


def test_an_import_that_is_killed_after_its_commit_is_not_written_twice(url: str) -> None:
    # The job is updated when it is claimed, before the commit of the rows, and when it is done.
    broken = killed(url, "api_backgroundjob", after=3)
    assert (broken["job"], broken["import"], broken["rules"]) == (["running", 1, ""], ["done", True], 2)
    done = carried_out(url)
    assert (done["job"], done["import"], done["rules"]) == (["done", 2, ""], ["done", True], 2)


def test_an_import_that_kills_its_worker_twice_is_interrupted(url: str) -> None:
    for attempts in (1, 2):
        assert killed(url, "inventory_rule")["job"] == ["running", attempts, ""]
    ended = carried_out(url)
    assert ended["job"] == ["interrupted", 2, "job_interrupted"]
    assert (ended["import"], ended["rules"], ended["files"]) == (["interrupted", False], 0, 0)


def test_a_run_that_is_killed_is_started_again(tmp_path: Path) -> None:
    installed = make.InstallationFactory()
    make.stock(installed.item, make.StoreroomFactory(), 1)
    request_recompute(INES)
    url = shared_database(tmp_path)
    broken = killed(url, "inventory_recommendation")
    assert (broken["run"][0], broken["current"]) == ("running", 0)
    done = carried_out(url)
    assert done["job"] == ["done", 2, ""]
    assert done["run"] == ["done", done["current"], done["current"]]
    assert done["current"] > 0

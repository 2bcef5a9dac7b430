import io
import logging
import threading
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import cast

import pytest
from django.db import OperationalError

from api.edge.stopping import Stop
from api.exchange.import_runs import request_import
from api.models import ImportRun
from api.operations.jobs.queue import Requester
from api.operations.scheduling.recurring_commands import RecurringCommand
from api.operations.scheduling.scheduler import Scheduler, run_command
from api.operations.signs import nightly_sign
from inventory.models import Lease
from inventory.plumbing.leases import HeldLease, take
from tests.processes import Listening, begin, manage, shared_database

QUICK = RecurringCommand("sequence_events", 5)
SLOW = RecurringCommand("watch_substitutes", 3600)


@pytest.fixture
def commands(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("api.operations.scheduling.scheduler.RECURRING_COMMANDS", (QUICK, SLOW))


class Clock:
    now = 1000.0

    def __call__(self) -> float:
        return self.now


def scheduler(done: list[str], clock: Clock) -> Scheduler:
    return Scheduler(stop=Stop(), clock=clock, run=done.append)


@pytest.mark.django_db
def test_each_command_keeps_its_interval_and_makes_up_for_nothing(commands: None) -> None:
    done: list[str] = []
    clock = Clock()
    one = scheduler(done, clock)
    for seconds in (0, 4, 1, 600, 0):
        clock.now += seconds
        one.run_once()
    assert done == ["sequence_events", "watch_substitutes", "sequence_events", "sequence_events"]


@pytest.mark.django_db
def test_a_command_that_somebody_runs_already_is_left_alone(commands: None) -> None:
    done: list[str] = []
    assert take("command watch_substitutes", "another", 60)
    scheduler(done, Clock()).run_once()
    assert done == ["sequence_events"]


@pytest.mark.django_db
def test_a_command_that_fails_stops_no_other(commands: None, caplog: pytest.LogCaptureFixture) -> None:
    done: list[str] = []

    def run(name: str) -> None:
        if name == "sequence_events":
            raise RuntimeError("broken")
        done.append(name)

    Scheduler(stop=Stop(), run=run).run_once()
    assert done == ["watch_substitutes"]
    assert "The command sequence_events failed" in caplog.text
    assert not Lease.objects.filter(name__startswith="command").exclude(holder="").exists()


@pytest.mark.django_db
def test_nights_that_begin_and_fail_are_missed(monkeypatch: pytest.MonkeyPatch) -> None:
    nightly = tuple(RecurringCommand(name) for name in ("purge", "recommend_stock"))
    monkeypatch.setattr("api.operations.scheduling.scheduler.RECURRING_COMMANDS", nightly)
    is_broken = True

    def run(name: str) -> None:
        if name == "recommend_stock" and is_broken:
            raise RuntimeError("broken")

    def missed_after(day: int) -> tuple[float, str]:
        now = datetime(2026, 1, day, 12, tzinfo=UTC)
        monkeypatch.setattr("api.operations.scheduling.scheduler.database_now", lambda: now)
        Scheduler(stop=Stop(), run=run).run_once()
        sign = nightly_sign(now)
        return sign.value, sign.fault

    assert missed_after(10) == (1, "")
    missed, fault = missed_after(11)
    assert (missed, fault.partition(".")[0]) == (
        2,
        "Has not succeeded since the night of 2026-01-09: recommend_stock",
    )
    is_broken = False
    assert missed_after(11)[0] == 2
    assert missed_after(12) == (0, "")


@pytest.mark.django_db
def test_one_leads_and_another_takes_over_when_it_falls_silent() -> None:
    clock, first, second = Clock(), scheduler([], Clock()), scheduler([], Clock())
    held = first.lead(None)
    assert held
    assert second.lead(None) is None
    Lease.objects.update(until="2026-01-01T00:00:00Z")
    second.clock = clock
    clock.now += 100
    assert second.lead(None)
    first.clock = clock
    assert first.lead(held) is None


@pytest.mark.django_db
def test_what_a_command_prints_goes_to_the_log(
    caplog: pytest.LogCaptureFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    caplog.set_level(logging.INFO)
    run_command("sequence_events")
    assert "sequence_events: Events numbered: 0." in caplog.text
    assert capsys.readouterr() == ("", "")


@pytest.mark.django_db
def test_queued_jobs_are_carried_out_after_the_commands(commands: None) -> None:
    done: list[str] = []
    run = ImportRun.objects.create(kind="rules", file_name="rules.csv", by_name="Ines")
    request_import(run, io.BytesIO(b"name,value\nheavy_mass_kg,2\n"), by=Requester("Ines", "user:1"))
    scheduler(done, Clock()).run_once()
    run.refresh_from_db()
    assert (run.state, len(done)) == ("done", 2)


@pytest.mark.django_db
def test_a_scheduler_that_stops_lets_another_lead_while_it_ends_its_work(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # The connection of the test is in a transaction: the loop would take it for a broken one.
    monkeypatch.setattr("api.operations.scheduling.scheduler.close_old_connections", lambda: None)
    first, second = scheduler([], Clock()), scheduler([], Clock())
    led: list[bool] = []

    class LastWork:
        def join(self, seconds: float) -> None:
            led.append(second.lead(None) is not None)

    def stop_after_leading(held: HeldLease | None) -> HeldLease | None:
        first.stop.ask()
        first.working["last"] = cast(threading.Thread, LastWork())
        return take("scheduler", "first", 60)

    first.lead = stop_after_leading  # type: ignore[method-assign]
    first.start_due = lambda: None  # type: ignore[method-assign]
    first.run()
    assert led == [True]


@pytest.mark.django_db(transaction=True)
def test_a_scheduler_stops_in_order_when_the_database_went_first(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def refuse(held: HeldLease) -> None:
        raise OperationalError("the connection is closed\nby the administrator")

    monkeypatch.setattr(HeldLease, "release", refuse)
    one = scheduler([], Clock())
    one.start_due = one.stop.ask  # type: ignore[method-assign]
    one.run()
    assert [record.getMessage() for record in caplog.records] == [
        "Stopped without the database: the connection is closed"
    ]


@pytest.mark.django_db
def test_a_scheduler_stops_within_seconds_whatever_its_work_waits_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("api.operations.scheduling.scheduler.STOPS_WITHIN_SECONDS", 0.1)
    stopped, answer = scheduler([], time.monotonic), threading.Event()
    stopped.start("slow", answer.wait)
    stopped.stop.ask()
    began = time.monotonic()
    stopped.run()
    assert time.monotonic() - began < 5
    assert stopped.is_working("slow")
    answer.set()


SCRIPT = """
import django
django.setup()
from api.operations.scheduling import scheduler
from api.operations.scheduling.recurring_commands import RecurringCommand
from api.edge.stopping import Stop
scheduler.LEASE_SECONDS = 3.0
scheduler.RECURRING_COMMANDS = [RecurringCommand("sequence_events", 0.5)]
def say(name):
    print(name, flush=True)
print("ready", flush=True)
scheduler.Scheduler(stop=Stop().listen(), run=say).run()
"""


@pytest.mark.django_db(transaction=True)
def test_of_two_processes_one_works_and_the_other_takes_over_after_a_kill(tmp_path: Path) -> None:
    url = shared_database(tmp_path)
    first, second = begin(url, "-c", SCRIPT), None
    try:
        heard = Listening(first)
        assert [heard.line() for _ in range(3)] == ["ready", *["sequence_events"] * 2]
        second = begin(url, "-c", SCRIPT)
        stand_by = Listening(second)
        assert (stand_by.line(), stand_by.line(4)) == ("ready", None)
        assert first.poll() is None
        first.kill()
        assert stand_by.line() == "sequence_events"
        second.terminate()
        assert second.wait(30) == 0
    finally:
        for one in filter(None, (first, second)):
            one.kill()
            one.wait()


@pytest.mark.django_db(transaction=True)
def test_run_scheduler_runs_every_command_that_there_is(tmp_path: Path) -> None:
    found = manage(shared_database(tmp_path), "run_scheduler", "--once", LOG_LEVEL="ERROR", NIGHTLY_HOUR="0")
    assert (found.returncode, found.stderr) == (0, "")

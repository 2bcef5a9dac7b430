from datetime import UTC, datetime
from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Recommendation, StockingRun
from inventory.planning.runs import start_run
from tests import factories as make
from tests.api.records import errors, post
from tests.conftest import ClientFor
from tests.jobs import run_queued_jobs

pytestmark = pytest.mark.django_db
PATH = "/api/v1/stocking/runs/"
AS_OF = datetime(2026, 3, 2, 6, 30, tzinfo=UTC)


def test_it_takes_a_run_and_tells_how_it_went(as_manager: APIClient) -> None:
    installed = make.InstallationFactory()
    make.stock(installed.item, make.StoreroomFactory(), 1)
    answer = as_manager.post(PATH)
    assert (answer.status_code, answer.json()["state"], answer.json()["waiting"]) == (202, "running", True)
    run_queued_jobs()
    found = as_manager.get(answer["Location"]).json()
    assert (found["state"], found["waiting"]) == ("done", False)
    assert found["failure"] is None
    assert found["done"] == found["total"] == found["recomputed"] == Recommendation.objects.count() > 0
    assert (found["started_by"], found["is_full"]) == ("the manager", False)


def test_the_scheduler_carries_it_out(as_manager: APIClient, monkeypatch: Any) -> None:
    seen: list[dict[str, Any]] = []
    monkeypatch.setattr("api.operations.jobs.recompute.recompute", lambda **given: seen.append(given))
    answer = as_manager.post(PATH, {"is_full": True})
    run = StockingRun.objects.get()
    assert (answer.json()["done"], run.alive_at, seen) == (0, None, [])
    assert int(answer["Retry-After"]) > 0
    assert run_queued_jobs() == 1
    (given,) = seen
    assert (given["as_of"], given["by"], given["is_full"]) == (run.as_of, "the manager", True)


def test_its_progress_is_that_of_its_job(as_manager: APIClient) -> None:
    installed = make.InstallationFactory()
    make.stock(installed.item, make.StoreroomFactory(), 1)
    answer = as_manager.post(PATH)
    run_queued_jobs()
    (job,) = as_manager.get("/api/v1/jobs/?kind=recompute").json()["results"]
    assert (job["state"], job["result"]) == ("done", answer["Location"])
    assert job["done"] == job["total"] == as_manager.get(answer["Location"]).json()["total"] > 0


def test_a_second_run_is_refused_while_one_goes(as_manager: APIClient) -> None:
    run = start_run(as_of=AS_OF, by="Ines Okafor")
    answer = as_manager.post(PATH)
    assert answer.status_code == 409
    assert f"Run {run.pk}, started by Ines Okafor, is under way" in answer.json()["detail"]
    assert (answer.json()["code"], answer.json()["values"]["run"]) == ("run_under_way", run.pk)


def test_the_same_key_begins_one_run(as_manager: APIClient) -> None:
    first = post(as_manager, PATH, {})
    again = post(as_manager, PATH, {})
    assert (again.status_code, again["Location"]) == (202, first["Location"])
    assert StockingRun.objects.count() == 1


def test_a_failure_is_told_at_the_run(as_manager: APIClient, monkeypatch: Any) -> None:
    def fall(*args: Any) -> None:
        raise RuntimeError("the plug was pulled")

    monkeypatch.setattr("drives.demand.recompute.load_demand_snapshot", fall)
    answer = as_manager.post(PATH)
    assert answer.status_code == 202
    run_queued_jobs()
    found = as_manager.get(answer["Location"]).json()
    assert (found["state"], found["failure"]["explanation"]) == (
        "failed",
        "It stopped with an error: RuntimeError: the plug was pulled",
    )
    assert found["failure"]["code"] == "run_failed"
    monkeypatch.undo()
    again = as_manager.post(PATH)
    run_queued_jobs()
    assert as_manager.get(again["Location"]).json()["state"] == "done"


def test_an_interrupted_run_says_so(as_viewer: APIClient) -> None:
    run = StockingRun.objects.create(as_of=AS_OF, state="failed")
    found = as_viewer.get(f"{PATH}{run.pk}/").json()
    assert (found["failure"]["code"], found["failure"]["values"]) == ("run_interrupted", {})
    assert found["failure"]["explanation"].startswith("It was interrupted")


def test_runs_are_listed_newest_first(as_viewer: APIClient) -> None:
    make_done = [
        StockingRun.objects.create(as_of=AS_OF, state="done", is_full=full) for full in (True, False)
    ]
    newest, oldest = make_done[1].pk, make_done[0].pk
    assert [row["id"] for row in as_viewer.get(PATH).json()["results"]] == [newest, oldest]
    assert [row["id"] for row in as_viewer.get(f"{PATH}?is_full=true").json()["results"]] == [oldest]
    assert set(errors(as_viewer.get(f"{PATH}?state=lost"))) == {"/state"}


def test_what_is_not_understood_begins_nothing(as_manager: APIClient) -> None:
    response = as_manager.post(PATH, {"is_full": "yes", "as_of": "now"})
    assert (response.status_code, set(errors(response))) == (400, {"/is_full", "/as_of"})
    assert as_manager.post(f"{PATH}?full=true").status_code == 400
    assert not StockingRun.objects.exists()


@pytest.mark.parametrize("role", ["viewer", "storeroom", "integration"])
def test_only_a_manager_begins_one(client_for: ClientFor, role: str) -> None:
    run = StockingRun.objects.create(as_of=AS_OF, state="done")
    assert client_for(role).post(PATH).status_code == 403
    assert client_for(role).get(f"{PATH}{run.pk}/").status_code == 200


def test_a_stranger_sees_none_and_what_is_not_there_is_missing(
    as_stranger: APIClient, as_manager: APIClient
) -> None:
    assert as_stranger.post(PATH).status_code == 401
    assert as_manager.get(f"{PATH}999999/").status_code == 404

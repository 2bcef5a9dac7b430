"""Exposure stands for all answers that a job calculates; frontier and back-test take the same way."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from api.edge.scope import limit_to
from api.models import AccessToken, BackgroundJob
from api.operations.jobs import calculations
from tests import factories as make
from tests.api.records import errors
from tests.jobs import run_queued_jobs

pytestmark = pytest.mark.django_db
PATH, EXPOSURE = "/api/v1/jobs/", "/api/v1/exposure/"
FRONTIER = "/api/v1/stocking/frontier/"


def test_an_answer_that_is_not_there_is_accepted_with_its_job(as_viewer: APIClient) -> None:
    answer = as_viewer.get(EXPOSURE)
    body = answer.json()
    assert (answer.status_code, body["state"], body["expected_seconds"]) == (202, "queued", 7.0)
    assert (body["href"], answer["Retry-After"]) == (answer["Location"], "7")
    assert body["result"].endswith(EXPOSURE)
    assert body["requested_by"] == "the viewer"
    assert as_viewer.get(answer["Location"]).json()["id"] == body["id"]


def test_the_stored_answer_is_given_to_every_caller_with_its_moment(
    as_viewer: APIClient, as_manager: APIClient
) -> None:
    accepted = as_viewer.get(EXPOSURE)
    run_queued_jobs()
    one, other = as_viewer.get(EXPOSURE), as_manager.get(f"{EXPOSURE}?limit=5")
    assert (one.status_code, other.status_code) == (200, 200)
    job = as_viewer.get(accepted["Location"]).json()
    assert one.json()["as_of"] == other.json()["as_of"] == job["started_at"]
    assert (job["state"], BackgroundJob.objects.count()) == ("done", 1)


def test_an_answer_is_valid_for_ten_minutes(as_viewer: APIClient) -> None:
    address = f"{FRONTIER}?budget=100"
    as_viewer.get(address)
    run_queued_jobs()
    for minutes, status in ((9, 200), (11, 202)):
        BackgroundJob.objects.update(started_at=timezone.now() - timedelta(minutes=minutes))
        assert as_viewer.get(address).status_code == status


def test_the_list_of_positions_at_risk_is_valid_until_the_next_run(as_viewer: APIClient) -> None:
    as_viewer.get(EXPOSURE)
    run_queued_jobs()
    for hours, status in ((25, 200), (27, 202)):
        BackgroundJob.objects.filter(state="done").update(started_at=timezone.now() - timedelta(hours=hours))
        assert as_viewer.get(EXPOSURE).status_code == status


@pytest.mark.parametrize("older", [{}, {"positions": "none"}, {"positions": [{"position": {"tag": "A"}}]}])
def test_what_an_older_version_stored_in_another_form_is_calculated_again(
    as_viewer: APIClient, older: dict[str, Any]
) -> None:
    as_viewer.get(EXPOSURE)
    run_queued_jobs()
    BackgroundJob.objects.update(answer=older)
    assert as_viewer.get(EXPOSURE).status_code == 202
    run_queued_jobs()
    assert as_viewer.get(EXPOSURE).status_code == 200


def test_a_caller_can_refuse_an_answer_from_before_a_change(as_viewer: APIClient) -> None:
    as_viewer.get(EXPOSURE)
    run_queued_jobs()
    query = {"calculated_after": timezone.now().isoformat()}
    assert as_viewer.get(EXPOSURE, query).status_code == 202
    run_queued_jobs()
    assert as_viewer.get(EXPOSURE, query).status_code == 200


@pytest.mark.parametrize("moment", ["2999-01-01T00:00:00Z", "yesterday"])
def test_a_moment_that_has_not_come_is_refused(as_viewer: APIClient, moment: str) -> None:
    assert "/calculated_after" in errors(as_viewer.get(EXPOSURE, {"calculated_after": moment}))


def test_a_failed_calculation_is_said_and_tried_again_after_a_minute(
    as_viewer: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.answers.exposure.load_risk_inputs", lambda at: 1 / 0)
    accepted = as_viewer.get(EXPOSURE)
    run_queued_jobs()
    answer = as_viewer.get(EXPOSURE)
    assert (answer.status_code, answer["Retry-After"]) == (503, "60")
    assert answer.json()["code"] == "calculation_failed"
    job = as_viewer.get(accepted["Location"]).json()
    assert (job["state"], job["error"]) == ("failed", "job_failed")
    BackgroundJob.objects.update(finished_at=timezone.now() - timedelta(minutes=2))
    assert as_viewer.get(EXPOSURE).status_code == 202


def test_one_caller_has_few_calculations_waiting(as_viewer: APIClient, as_manager: APIClient) -> None:
    for budget in range(calculations.MOST_UNFINISHED):
        assert as_viewer.get(f"{FRONTIER}?budget={budget}").status_code == 202
    refused = as_viewer.get(f"{FRONTIER}?budget=99")
    assert (refused.status_code, refused.json()["code"]) == (429, "too_many_calculations")
    assert as_viewer.get(f"{FRONTIER}?budget=1").status_code == 202
    assert as_manager.get(f"{FRONTIER}?budget=99").status_code == 202


def limited() -> APIClient:
    token, secret = AccessToken.objects.issue("weir", role="manager", last_used_at=timezone.now())
    limit_to({"token": token}, [make.PlantFactory(code="MILL")], [make.StoreroomFactory(code="NORTH")])
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return client


def test_callers_who_may_see_less_have_jobs_and_answers_of_their_own(as_viewer: APIClient) -> None:
    make.PositionFactory()
    as_viewer.get(EXPOSURE)
    run_queued_jobs()
    client = limited()
    assert client.get(PATH).json()["results"] == []
    whole = BackgroundJob.objects.get()
    assert client.get(f"{PATH}{whole.pk}/").status_code == 404
    own = client.get(EXPOSURE)
    assert own.status_code == 202
    run_queued_jobs()
    assert (client.get(EXPOSURE).json()["judged"], as_viewer.get(EXPOSURE).json()["judged"]) == (0, 1)
    assert client.get(own["Location"]).status_code == 200
    assert len(as_viewer.get(PATH).json()["results"]) == 2


def test_a_list_of_jobs_costs_the_same_however_long_it_is(
    as_viewer: APIClient, django_assert_max_num_queries: Any
) -> None:
    for budget in range(3):
        as_viewer.get(f"{FRONTIER}?budget={budget}")
    with django_assert_max_num_queries(5):
        found = as_viewer.get(f"{PATH}?kind=frontier&state=queued").json()["results"]
    assert [job["parameters"] for job in found] == [{"budget": str(budget)} for budget in (2, 1, 0)]
    assert set(errors(as_viewer.get(f"{PATH}?kind=lottery"))) == {"/kind"}


def test_a_stranger_sees_no_jobs(as_stranger: APIClient) -> None:
    assert as_stranger.get(PATH).status_code == 401

from typing import Any

import pytest
from rest_framework.test import APIClient

from drives.models import Installation, MeterReading
from tests.api.records import errors, names
from tests.drives.feed.messages import closed, day, place, reading, send, used

pytestmark = pytest.mark.django_db
LIST = "/api/v1/meter-readings/"


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    place()


def put(client: APIClient, number: str, body: dict[str, Any]) -> Any:
    return client.put(f"{LIST}planning/{number}/", body)


def test_a_reading_is_recorded(as_integration: APIClient) -> None:
    made = put(as_integration, "R-1", reading(1, day(1), 100.5))
    assert made.status_code == 201, made.content
    assert (made.json()["hours"], made.json()["is_reset"], made.json()["applied"]) == (100.5, False, True)
    assert names(as_integration.get(f"{LIST}?position=STEEP-EL1-P1"), "external_id") == ["R-1"]


def test_the_newest_version_of_a_reading_counts(as_integration: APIClient) -> None:
    put(as_integration, "R-1", reading(2, day(1), 100))
    older = put(as_integration, "R-1", reading(1, day(1), 90))
    assert (older.status_code, older.json()["applied"], older.json()["hours"]) == (200, False, 100.0)
    assert put(as_integration, "R-1", reading(3, day(1), 110)).json()["hours"] == 110.0


@pytest.mark.parametrize(("at", "hours"), [(day(20), 50), (day(5), 150)])
def test_hours_that_run_backwards_are_refused(at: Any, hours: float, as_integration: APIClient) -> None:
    put(as_integration, "R-1", reading(1, day(10), 100))
    refused = put(as_integration, "R-2", reading(1, at, hours))
    assert refused.status_code == 400
    assert "is_reset" in errors(refused)["/hours"]
    assert MeterReading.objects.count() == 1


def test_a_new_meter_may_begin_anew(as_integration: APIClient) -> None:
    put(as_integration, "R-1", reading(1, day(10), 100))
    assert put(as_integration, "R-2", reading(1, day(20), 0, is_reset=True)).status_code == 201


def test_a_life_between_two_readings_runs_by_the_meter(as_integration: APIClient) -> None:
    send("WO-1", closed(3, day(700), [used()]))
    assert Installation.objects.get(work_order="WO-1").age_basis == "calendar"
    put(as_integration, "R-1", reading(1, day(0, 0), 1000))
    put(as_integration, "R-2", reading(1, day(300), 5000))
    put(as_integration, "R-3", reading(1, day(300), 0, is_reset=True))
    put(as_integration, "R-4", reading(1, day(700), 2500.5))
    ended = Installation.objects.get(work_order="WO-1")
    assert (float(ended.running_hours or 0), ended.age_basis) == (6500.5, "meter")


def test_a_retracted_reading_counts_no_more(as_integration: APIClient) -> None:
    put(as_integration, "R-1", reading(1, day(10), 100))
    shown = put(as_integration, "R-1", reading(2, day(10), 100, retracted=True)).json()
    assert shown["retracted_at"] is not None
    assert put(as_integration, "R-2", reading(1, day(20), 50)).status_code == 201


def test_a_reading_of_a_place_not_known_waits(as_integration: APIClient) -> None:
    body = reading(1, day(10), 100, position="GONE")
    assert put(as_integration, "R-1", body).status_code == 202


@pytest.mark.parametrize("nowhere", ["", None, 5])
def test_every_bad_member_is_named(as_integration: APIClient, nowhere: Any) -> None:
    response = put(as_integration, "R-1", {"position": nowhere, "at": "noon", "hours": -1})
    assert set(errors(response)) == {"/position", "/at", "/hours", "/updated_at"}


def test_a_viewer_writes_no_readings(as_viewer: APIClient) -> None:
    assert put(as_viewer, "R-1", reading(1, day(10), 100)).status_code == 403

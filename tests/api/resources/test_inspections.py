from typing import Any

import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/inspections/"
SEEN = {"position": "P-1", "at": "2024-03-05T07:30:00+01:00"}


@pytest.fixture(autouse=True)
def place(db: None) -> None:
    make.PositionFactory(tag="P-1", drive=make.DriveFactory(tag="D-1"))


@pytest.mark.parametrize(
    "more",
    [
        {"elongation_percent": 1.25, "hooked_teeth": False, "running_hours": 1200.5, "note": "dry"},
        {"elongation_percent": -0.1},
        {"hooked_teeth": True, "elongation_percent": None},
        {"note": "guard bent"},
    ],
)
def test_it_records_what_was_seen(more: dict[str, Any], as_storeroom: APIClient) -> None:
    made = as_storeroom.post(PATH, SEEN | more)
    assert made.status_code == 201, made.content
    assert (
        more | {"position": "P-1", "drive": "D-1", "at": "2024-03-05T06:30:00Z"}
    ).items() <= made.json().items()


def test_something_must_have_been_seen(as_storeroom: APIClient) -> None:
    found = errors(as_storeroom.post(PATH, SEEN))
    assert "Say what was found" in found["/elongation_percent"]


def test_the_future_is_refused(as_storeroom: APIClient) -> None:
    response = as_storeroom.post(PATH, SEEN | {"at": "2100-01-01T00:00:00Z", "note": "x"})
    assert set(errors(response)) == {"/at"}


def test_every_bad_member_is_named_at_once(as_storeroom: APIClient) -> None:
    wrong = {
        "position": "NOWHERE",
        "at": "today",
        "elongation_percent": 21,
        "hooked_teeth": "yes",
        "running_hours": 1e12,
        "note": 7,
    }
    assert set(errors(as_storeroom.post(PATH, wrong))) == {f"/{name}" for name in wrong}


@pytest.mark.parametrize(
    ("query", "notes"),
    [
        ("", ["second", "first"]),
        ("position=P-1&drive=D-1&equipment=STEEP-EL1&plant=WEIR", ["second", "first"]),
        ("at__gte=2024-03-05T00:00:00Z", ["second"]),
        ("elongation_percent__gte=1.5", ["second"]),
        ("hooked_teeth=true", ["second"]),
        ("q=first", ["first"]),
        ("ordering=elongation_percent", ["first", "second"]),
        ("position=NOWHERE", []),
    ],
)
def test_it_is_filtered(query: str, notes: list[str], as_viewer: APIClient) -> None:
    place = make.PositionFactory(tag="P-1")
    make.InspectionFactory(position=place, note="first")
    make.InspectionFactory(
        position=place,
        note="second",
        at=make.MORNING.replace(day=6),
        elongation_percent="1.9",
        hooked_teeth=True,
    )
    assert names(as_viewer.get(f"{PATH}?{query}"), "note") == notes

from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from drives.models import Request
from tests import factories as make
from tests.api.records import errors, names
from tests.conftest import ClientFor

pytestmark = pytest.mark.django_db
PATH = "/api/v1/requests/"
ASKED = {"item": "SPR-A", "storeroom": "MAIN", "at": "2024-03-05T07:30:00+01:00", "result": "not_filled"}


@pytest.fixture(autouse=True)
def shelves(db: None) -> None:
    make.ItemFactory(stock_number="SPR-A"), make.ItemFactory(stock_number="SPR-B")
    make.StoreroomFactory()
    make.PositionFactory(tag="P-1", drive=make.DriveFactory(tag="D-1"))


def test_it_records_what_was_asked_for(as_storeroom: APIClient) -> None:
    more = {
        "reference": "RQ-1",
        "position": "P-1",
        "quantity": 2,
        "result": "filled_by_substitute",
        "issued_item": "SPR-B",
        "is_planned": False,
        "work_order": "WO-7",
        "note": "at night",
    }
    made = as_storeroom.post(PATH, ASKED | more)
    assert made.status_code == 201, made.content
    shown = ASKED | more | {"at": "2024-03-05T06:30:00Z", "retracted_at": None}
    assert shown.items() <= made.json().items()
    assert as_storeroom.get(made["Location"]).json() == made.json()


def test_without_a_time_it_was_asked_for_now(as_storeroom: APIClient) -> None:
    begun = timezone.now()
    assert (
        as_storeroom.post(PATH, {"position": "P-1", "storeroom": "MAIN", "result": "partly"}).status_code
        == 201
    )
    asked = Request.objects.get()
    assert begun <= asked.at <= timezone.now()
    assert (asked.quantity, asked.item) == (1, None)


@pytest.mark.parametrize("role", ["storeroom", "manager", "integration"])
def test_who_may_ask(role: str, client_for: ClientFor) -> None:
    assert client_for(role).post(PATH, ASKED).status_code == 201


def test_a_known_reference_answers_with_the_record_that_stands(as_integration: APIClient) -> None:
    first = as_integration.post(PATH, ASKED | {"reference": "RQ-1"})
    again = as_integration.post(PATH, ASKED | {"reference": "RQ-1"})
    assert (first.status_code, again.status_code) == (201, 200)
    assert (again.json(), again["Location"]) == (first.json(), first["Location"])


def test_a_known_reference_that_says_otherwise_is_a_conflict(as_integration: APIClient) -> None:
    first = as_integration.post(PATH, ASKED | {"reference": "RQ-1"})
    other = as_integration.post(PATH, ASKED | {"reference": "RQ-1", "quantity": 4})
    assert (other.status_code, other.json()["request"]) == (409, first.json()["id"])
    assert "another quantity" in other.json()["detail"]


def test_every_bad_member_is_named_at_once(as_storeroom: APIClient) -> None:
    wrong = {
        "reference": "x" * 81,
        "at": "today",
        "item": "NOTHING",
        "position": "NOWHERE",
        "storeroom": None,
        "quantity": 0,
        "result": "lost",
        "issued_item": 7.5,
        "is_planned": "no",
        "work_order": 7,
        "note": "x" * 201,
    }
    assert set(errors(as_storeroom.post(PATH, wrong))) == {f"/{name}" for name in wrong}


@pytest.mark.parametrize(
    ("wrong", "member"),
    [
        ({"item": None}, "/item"),
        ({"at": "2100-01-01T00:00:00Z"}, "/at"),
        ({"issued_item": "SPR-B"}, "/issued_item"),
        ({"result": "filled", "issued_item": "SPR-B"}, "/issued_item"),
    ],
)
def test_what_cannot_be_names_its_member(wrong: dict[str, Any], member: str, as_storeroom: APIClient) -> None:
    assert set(errors(as_storeroom.post(PATH, ASKED | wrong))) == {member}
    assert not Request.objects.exists()


def test_a_mistake_is_taken_back_once(as_storeroom: APIClient) -> None:
    made = as_storeroom.post(PATH, ASKED)
    body = {"at": "2024-03-06T06:30:00Z"}
    taken_back = as_storeroom.post(made["Location"] + "retract/", body)
    assert (taken_back.status_code, taken_back.json()["retracted_at"]) == (200, body["at"])
    assert as_storeroom.get(made["Location"])["ETag"] == taken_back["ETag"]
    again = as_storeroom.post(made["Location"] + "retract/", body)
    assert (again.status_code, again.json()["title"]) == (409, "The present state does not allow this")


def test_a_retraction_needs_no_words_and_takes_no_others(as_storeroom: APIClient) -> None:
    address = as_storeroom.post(PATH, ASKED)["Location"] + "retract/"
    assert set(errors(as_storeroom.post(address, {"why": "x"}))) == {"/why"}
    assert set(errors(as_storeroom.post(address, {"at": "2020-01-01T00:00:00Z"}))) == {"/at"}
    assert as_storeroom.post(address, {}).json()["retracted_at"] is not None


def test_the_wrong_role_takes_nothing_back(as_viewer: APIClient, as_stranger: APIClient) -> None:
    address = f"{PATH}{make.RequestFactory().pk}/retract/"
    assert (as_viewer.post(address, {}).status_code, as_stranger.post(address, {}).status_code) == (403, 401)


def test_what_is_not_there_is_not_taken_back(as_storeroom: APIClient) -> None:
    assert as_storeroom.post(f"{PATH}99999/retract/", {}).status_code == 404


@pytest.mark.parametrize(
    ("query", "notes"),
    [
        ("", ["second", "first"]),
        ("item=SPR-A", ["first"]),
        ("item=SPR-A,SPR-B&storeroom=MAIN", ["second", "first"]),
        ("position=P-1&drive=D-1", ["second"]),
        ("result=partly,filled", ["first"]),
        ("work_order=WO-7", ["second"]),
        ("at__gte=2024-03-05T00:00:00Z", ["second"]),
        ("at__lte=2024-03-05T00:00:00Z", ["first"]),
        ("retracted=true", ["second"]),
        ("retracted=false", ["first"]),
        ("is_planned=true", ["second"]),
        ("quantity__gte=2", ["second"]),
        ("q=WO-7 SPR-B", ["second"]),
        ("ordering=at", ["first", "second"]),
        ("storeroom=NORTH", []),
    ],
)
def test_it_is_filtered(query: str, notes: list[str], as_viewer: APIClient) -> None:
    make.RequestFactory(item=make.ItemFactory(stock_number="SPR-A"), note="first")
    make.RequestFactory(
        item=make.ItemFactory(stock_number="SPR-B"),
        position=make.PositionFactory(tag="P-1"),
        at=make.MORNING.replace(day=6),
        quantity=2,
        result="not_filled",
        work_order="WO-7",
        is_planned=True,
        retracted_at=make.MORNING.replace(day=7),
        note="second",
    )
    assert names(as_viewer.get(f"{PATH}?{query}"), "note") == notes

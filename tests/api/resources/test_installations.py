from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from drives.models import Installation, Position
from drives.service_record import history
from tests import factories as make
from tests import movements
from tests.api.records import errors, names, post

pytestmark = pytest.mark.django_db
PATH = "/api/v1/installations/"
FITTED = {"position": "P-1", "item": "SPR-1", "installed_at": "2024-03-05T07:30:00+01:00"}


@pytest.fixture(autouse=True)
def place(db: None) -> Position:
    make.ItemFactory(stock_number="SPR-1")
    return make.PositionFactory(tag="P-1", drive=make.DriveFactory(tag="D-1"))


@pytest.fixture
def unit(place: Position) -> Installation:
    return history.install(place, item=make.ItemFactory(stock_number="SPR-1"), installed_at=make.MORNING)


def test_it_records_what_was_fitted(as_manager: APIClient, place: Position) -> None:
    more = {
        "installed_why": "first fitting",
        "temporary_until": "2024-06-30",
        "approved_by": "Ines Okafor",
        "approval_reference": "MOC-12",
        "inspect_by": "2024-04-01",
        "differences": ["hub 4 mm longer"],
        "note": "guard trimmed",
    }
    made = as_manager.post(PATH, FITTED | more)
    assert made.status_code == 201, made.content
    expected = more | {
        "position": "P-1",
        "drive": "D-1",
        "item": "SPR-1",
        "installed_at": "2024-03-05T06:30:00Z",
        "removed_at": None,
        "ended_by": None,
        "movement": None,
    }
    assert expected.items() <= made.json().items()
    assert made.json()["specification"] == make.ItemFactory(stock_number="SPR-1").specification_id


def test_it_may_name_the_issue_that_brought_it(as_storeroom: APIClient) -> None:
    item, room = make.ItemFactory(stock_number="SPR-1"), make.StoreroomFactory()
    arrival = make.stock(item, room, 2).entry
    issued = movements.issue(item, room, 1, by="Marta Keller").entry
    assert set(errors(as_storeroom.post(PATH, FITTED | {"movement": arrival.pk}))) == {"/movement"}
    assert as_storeroom.post(PATH, FITTED | {"movement": issued.pk}).json()["movement"] == issued.pk


def test_a_specification_will_do_where_no_item_is_known(as_storeroom: APIClient) -> None:
    behind = make.SprocketFactory(teeth=23)
    made = as_storeroom.post(
        PATH, FITTED | {"item": None, "specification": behind.pk, "installed_why": "trial"}
    )
    assert (made.json()["item"], made.json()["specification"]) == (None, behind.pk)


def test_two_units_do_not_sit_at_one_position(as_storeroom: APIClient, unit: Installation) -> None:
    response = as_storeroom.post(PATH, FITTED)
    assert (response.status_code, response.json()["installation"]) == (409, unit.pk)
    assert "record its removal first" in response.json()["detail"]


def test_lives_do_not_overlap(as_storeroom: APIClient, unit: Installation) -> None:
    history.remove(unit, removed_at=make.MORNING.replace(day=8), ended_by="failure")
    response = as_storeroom.post(PATH, FITTED)
    assert (response.status_code, response.json()["installation"]) == (409, unit.pk)


def test_every_bad_member_is_named_at_once(as_storeroom: APIClient) -> None:
    wrong = {
        "position": "NOWHERE",
        "item": "NOWHERE",
        "specification": "x",
        "movement": 999_999,
        "installed_at": "2024-03-05",
        "temporary_until": "soon",
        "approved_by": "A" * 81,
        "differences": [1],
        "removed_at": "2024-03-05T06:30:00Z",
    }
    response = as_storeroom.post(PATH, wrong)
    assert response.status_code == 400
    assert {pointer.split("/")[1] for pointer in errors(response)} == set(wrong)


def test_it_asks_what_was_fitted_beside_another_fault(as_storeroom: APIClient) -> None:
    found = errors(as_storeroom.post(PATH, {"position": "NOWHERE", "installed_at": "2024-03-05T06:30:00Z"}))
    assert set(found) == {"/position", "/item"}


def test_the_future_is_refused(as_storeroom: APIClient) -> None:
    found = errors(as_storeroom.post(PATH, FITTED | {"installed_at": "2100-01-01T00:00:00Z"}))
    assert "is in the future" in found["/installed_at"]


def test_remove_ends_it_once(as_storeroom: APIClient, unit: Installation) -> None:
    path, end = f"{PATH}{unit.pk}/", {"removed_at": "2024-03-08T06:30:00Z", "ended_by": "failure"}
    detail = end | {
        "mechanism": "wear",
        "cause": "dry",
        "part": "teeth",
        "work_order": "WO-7",
        "note": "hooked",
    }
    ended = post(as_storeroom, f"{path}remove/", detail)
    assert ended.status_code == 200, ended.content
    assert detail.items() <= ended.json().items()
    assert (ended.json()["running_hours"], ended.json()["age_basis"]) == (65.8, "calendar")
    assert ended["ETag"] == as_storeroom.get(path)["ETag"]
    assert post(as_storeroom, f"{path}remove/", detail).content == ended.content
    again = post(as_storeroom, f"{path}remove/", end, key="k-2")
    assert (again.status_code, again.json()["detail"].startswith("This unit was removed")) == (409, True)


def test_a_meter_goes_before_the_calendar(as_storeroom: APIClient, unit: Installation) -> None:
    end = {"removed_at": "2024-03-08T06:30:00Z", "ended_by": "preventive", "running_hours": 70.5}
    ended = as_storeroom.post(f"{PATH}{unit.pk}/remove/", end).json()
    assert (ended["running_hours"], ended["age_basis"]) == (70.5, "meter")


def test_a_bad_removal_names_every_member(as_storeroom: APIClient, unit: Installation) -> None:
    wrong: dict[str, Any] = {
        "removed_at": "2024-03-08",
        "ended_by": "theft",
        "mechanism": "rust",
        "running_hours": -1,
        "age_basis": "guess",
        "work_order": 7,
        "position": "P-1",
    }
    response = as_storeroom.post(f"{PATH}{unit.pk}/remove/", wrong)
    assert (response.status_code, set(errors(response))) == (400, {f"/{name}" for name in wrong})
    assert set(errors(as_storeroom.post(f"{PATH}{unit.pk}/remove/", {}))) == {"/removed_at", "/ended_by"}


def test_it_does_not_end_before_it_began(as_storeroom: APIClient, unit: Installation) -> None:
    end = {"removed_at": "2024-03-01T06:30:00Z", "ended_by": "failure"}
    response = as_storeroom.post(f"{PATH}{unit.pk}/remove/", end)
    assert (response.status_code, set(errors(response))) == (400, {"/removed_at"})


def test_remove_needs_a_role_and_a_unit(
    as_storeroom: APIClient, as_viewer: APIClient, as_stranger: APIClient, unit: Installation
) -> None:
    end = {"removed_at": "2024-03-08T06:30:00Z", "ended_by": "failure"}
    assert as_viewer.post(f"{PATH}{unit.pk}/remove/", end).status_code == 403
    assert as_stranger.post(f"{PATH}{unit.pk}/remove/", end).status_code == 401
    assert as_storeroom.post(f"{PATH}999999/remove/", end).status_code == 404


@pytest.mark.parametrize(
    ("query", "items"),
    [
        ("", ["SPR-2", "SPR-1"]),
        ("position=P-1", ["SPR-2", "SPR-1"]),
        ("drive=D-1&equipment=STEEP-EL1&plant=WEIR", ["SPR-2", "SPR-1"]),
        ("item=SPR-1", ["SPR-1"]),
        ("specification=0", []),
        ("fitted=true", ["SPR-2"]),
        ("fitted=false", ["SPR-1"]),
        ("installed_at__gte=2024-03-06T00:00:00Z", ["SPR-2"]),
        ("removed_at__lte=2024-03-06T00:00:00Z", ["SPR-1"]),
        ("ended_by=failure,limit_reached", ["SPR-1"]),
        ("mechanism=wear", ["SPR-1"]),
        ("running_hours__gte=10&running_hours__lte=10", ["SPR-1"]),
        ("age_basis=meter", ["SPR-1"]),
        ("work_order=WO-7", ["SPR-1"]),
        ("cause=dry&part=teeth", ["SPR-1"]),
        ("temporary=true", ["SPR-2"]),
        ("temporary_until__lte=2024-06-30", ["SPR-2"]),
        ("inspect_by__lte=2024-04-30", ["SPR-2"]),
        ("approved_by=Ines Okafor", ["SPR-2"]),
        ("approval_reference=MOC-12", ["SPR-2"]),
        ("q=dry", ["SPR-1"]),
        ("ordering=installed_at", ["SPR-1", "SPR-2"]),
    ],
)
def test_it_is_filtered(query: str, items: list[str], as_viewer: APIClient, place: Position) -> None:
    first = history.install(place, item=make.ItemFactory(stock_number="SPR-1"), installed_at=make.MORNING)
    history.remove(
        first,
        removed_at=make.MORNING.replace(day=5),
        ended_by="failure",
        mechanism="wear",
        cause="dry",
        part="teeth",
        running_hours=Decimal("10"),
        work_order="WO-7",
    )
    history.install(
        place,
        item=make.ItemFactory(stock_number="SPR-2"),
        installed_at=make.MORNING.replace(day=7),
        temporary_until=make.MORNING.replace(month=6, day=30).date(),
        inspect_by=make.MORNING.replace(month=4, day=1).date(),
        approved_by="Ines Okafor",
        approval_reference="MOC-12",
    )
    assert names(as_viewer.get(f"{PATH}?{query}"), "item") == items


@pytest.mark.parametrize(
    "query", ["ended_by=theft", "removed_at__lte=now", "fitted=maybe", "inspect_by__lte=x"]
)
def test_a_filter_that_is_not_understood_is_refused(query: str, as_viewer: APIClient) -> None:
    assert as_viewer.get(f"{PATH}?{query}").status_code == 400

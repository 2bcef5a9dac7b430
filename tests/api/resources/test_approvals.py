from datetime import date, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone
from rest_framework.test import APIClient

from drives.models import Approval, Installation
from inventory.models import Event
from tests import factories as make
from tests.api.records import errors, names, post

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    """Its day begins with that of the tests."""
    make.PlantFactory(timezone="UTC")


@pytest.fixture
def unit(db: None) -> Installation:
    """A stainless sprocket with another hub on a position that asks for carbon steel with hub B."""
    part = make.SprocketFactory(hub_style="A", hub_diameter_mm=None)
    return make.InstallationFactory(item=make.ItemFactory(specification=part))


def path(unit: Installation) -> str:
    return f"/api/v1/installations/{unit.pk}/approvals/"


def body(days: int = 30, **more: Any) -> dict[str, Any]:
    return {"approved_by": "Ines Okafor", "until_on": str(TODAY + timedelta(days=days))} | more


def announced() -> str:
    out = StringIO()
    call_command("watch_substitutes", stdout=out)
    return out.getvalue().strip()


def until(unit: Installation, days: int) -> None:
    Installation.objects.filter(pk=unit.pk).update(temporary_until=TODAY + timedelta(days=days))


def test_an_approval_freezes_what_differs(as_manager: APIClient, unit: Installation) -> None:
    inspect_by = str(TODAY + timedelta(days=7))
    response = post(as_manager, path(unit), body(reference="MOC-17", inspect_by=inspect_by))
    shown = response.json()
    assert (response.status_code, shown["approved_by"], shown["recorded_by"]) == (
        201,
        "Ines Okafor",
        "the manager",
    )
    assert "hub" in {one["aspect"] for one in shown["differences"]}
    assert "ok" not in {one["outcome"] for one in shown["differences"]}
    assert all(one["code"] and one["explanation"].endswith(".") for one in shown["differences"])
    fitted = as_manager.get(f"/api/v1/installations/{unit.pk}/").json()
    assert (fitted["temporary_until"], fitted["approval_reference"]) == (body()["until_on"], "MOC-17")
    assert (fitted["inspect_by"], fitted["differences"]) == (inspect_by, shown["differences"])


def test_longer_is_another_approval(as_manager: APIClient, unit: Installation) -> None:
    for number, days in enumerate([10, 20]):
        assert post(as_manager, path(unit), body(days), key=f"k-{number}").status_code == 201
    wanted = [body(20)["until_on"], body(10)["until_on"]]
    assert names(as_manager.get(path(unit)), "until_on") == wanted
    address = f"/api/v1/installations/{unit.pk}/"
    etag = as_manager.get(address)["ETag"]
    longer = {"temporary_until": body(90)["until_on"]}
    assert as_manager.patch(address, longer, HTTP_IF_MATCH=etag).status_code == 405
    assert str(Installation.objects.get().temporary_until) == wanted[0]


@pytest.mark.parametrize(
    ("more", "named", "code"),
    [
        ({"approved_by": " "}, "/approved_by", "blank"),
        ({"until_on": "2020-01-01"}, "/until_on", "approval_already_over"),
        ({"until_on": str(TODAY + timedelta(days=400))}, "/until_on", "approval_too_long"),
        ({"until_on": None}, "/until_on", "null"),
        ({"inspect_by": str(TODAY + timedelta(days=60))}, "/inspect_by", "approval_inspection_outside"),
        ({"inspect_by": "2020-01-01"}, "/inspect_by", "approval_inspection_outside"),
        ({"differences": []}, "/differences", "invalid"),
    ],
)
def test_an_approval_that_makes_no_sense_is_refused(
    more: dict[str, Any], named: str, code: str, as_manager: APIClient, unit: Installation
) -> None:
    refused = post(as_manager, path(unit), body() | more)
    assert errors(refused).keys() == {named}
    assert refused.json()["errors"][0]["code"] == code
    assert not Approval.objects.exists()


def test_only_a_manager_approves(as_storeroom: APIClient, as_viewer: APIClient, unit: Installation) -> None:
    for client in (as_storeroom, as_viewer):
        assert post(client, path(unit), body()).status_code == 403
    assert as_viewer.get(path(unit)).status_code == 200


def test_a_unit_that_was_removed_cannot_be_approved(as_manager: APIClient) -> None:
    gone = make.InstallationFactory(removed_at=timezone.now(), ended_by="preventive")
    refused = post(as_manager, path(gone), body())
    assert (refused.status_code, refused.json()["code"]) == (409, "unit_already_removed")


def test_the_end_has_one_event_before_and_one_after(unit: Installation) -> None:
    until(unit, 4)
    assert announced() == "0 end soon, 0 are overdue."
    until(unit, 3)
    assert [announced(), announced()] == ["1 end soon, 0 are overdue.", "0 end soon, 0 are overdue."]
    until(unit, -1)
    assert [announced(), announced()] == ["0 end soon, 1 are overdue.", "0 end soon, 0 are overdue."]
    found = Event.objects.filter(type__startswith="substitution.").order_by("id")
    assert [event.type for event in found] == ["substitution.expiring", "substitution.overdue"]
    assert (found[1].plant, found[1].data["position"]) == ("WEIR", unit.position.tag)


def test_another_approval_has_an_event_of_its_own(as_manager: APIClient, unit: Installation) -> None:
    until(unit, 2)
    assert announced() == "1 end soon, 0 are overdue."
    post(as_manager, path(unit), body(3))
    assert announced() == "1 end soon, 0 are overdue."


def test_a_unit_that_was_removed_is_not_announced(db: None) -> None:
    make.InstallationFactory(
        temporary_until=date(2024, 4, 1), removed_at=timezone.now(), ended_by="preventive"
    )
    assert announced() == "0 end soon, 0 are overdue."


@pytest.mark.parametrize(
    ("word", "days"),
    [("overdue", [-1]), ("expiring", [3]), ("true", [-1, 3, 30]), ("false", [None])],
)
def test_they_are_listed_by_how_much_time_is_left(
    word: str, days: list[int | None], as_viewer: APIClient, db: None
) -> None:
    for left in (-1, 3, 30, None):
        unit = make.InstallationFactory()
        if left is not None:
            until(unit, left)
    wanted = {None if left is None else str(TODAY + timedelta(days=left)) for left in days}
    assert set(names(as_viewer.get(f"/api/v1/installations/?temporary={word}"), "temporary_until")) == wanted
    assert as_viewer.get("/api/v1/installations/?temporary=maybe").status_code == 400

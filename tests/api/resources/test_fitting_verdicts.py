"""The verdict when a part leaves for a position and when it is fitted: told, quoted, frozen, approved by another person."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from drives.models import Approval, Installation, Plant, Position, RecordedVerdict
from drives.substitutes import approvals
from inventory.models import Event, Item, StockLevel, Storeroom
from tests import factories as make
from tests.api.records import errors, names, post
from tests.races import outcomes

pytestmark = pytest.mark.django_db
MOVEMENTS = "/api/v1/movements/"
INSTALLATIONS = "/api/v1/installations/"
TODAY = timezone.now().date()


@pytest.fixture
def main(db: None) -> Storeroom:
    return make.StoreroomFactory()


@pytest.fixture
def place(db: None) -> Position:
    return make.PositionFactory(tag="P-1")


@pytest.fixture
def fits(main: Storeroom) -> Item:
    return stocked("SPR-FITS", main)


@pytest.fixture
def unfit(main: Storeroom) -> Item:
    return stocked("SPR-UNFIT", main, bore_mm=30)


def stocked(number: str, main: Storeroom, **part: Any) -> Item:
    part = {"max_bore_mm": None, **part} if "bore_mm" in part else part
    item: Item = make.ItemFactory(stock_number=number, specification=make.SprocketFactory(**part))
    make.stock(item, main, 5)
    return item


def issue(client: APIClient, item: str, key: str = "i-1", **more: Any) -> Any:
    body = {"kind": "issue", "item": item, "storeroom": "MAIN", "quantity": 1, "position": "P-1"}
    return post(client, MOVEMENTS, body | more, key=key)


def fit(client: APIClient, item: str, **more: Any) -> Any:
    moment = timezone.now().isoformat()
    return client.post(INSTALLATIONS, {"position": "P-1", "item": item, "installed_at": moment} | more)


def four_eyes(word: str) -> None:
    Plant.objects.update(substitute_approval=word)


def test_an_issue_to_a_position_answers_with_its_verdict(
    as_storeroom: APIClient, fits: Item, place: Position
) -> None:
    made = issue(as_storeroom, "SPR-FITS")
    verdict = made.json()["verdict"]
    assert (made.status_code, verdict["grade"]) == (201, "drop_in")
    assert all(one["code"] and one["explanation"] for one in verdict["reasons"])
    assert as_storeroom.get(made["Location"]).json()["verdict"] == verdict
    offered = as_storeroom.get("/api/v1/positions/P-1/substitutes/").json()["results"][0]
    assert (offered["item"]["stock_number"], offered["verdict_id"]) == ("SPR-FITS", verdict["id"])
    assert issue(as_storeroom, "SPR-FITS", key="i-2", position=None).json()["verdict"] is None


@pytest.mark.parametrize("address", [MOVEMENTS, f"{MOVEMENTS}found/"])
def test_what_does_not_fit_is_issued_with_a_reason_alone(
    address: str, as_storeroom: APIClient, unfit: Item, place: Position
) -> None:
    body = {"item": "SPR-UNFIT", "storeroom": "MAIN", "quantity": 1, "position": "P-1"}
    body |= {"kind": "issue"} if address == MOVEMENTS else {}
    refused = post(as_storeroom, address, body)
    assert (refused.status_code, set(errors(refused))) == (400, {"/reason"})
    assert refused.json()["verdict"]["grade"] == "unfit"
    assert "mounting" in {one["aspect"] for one in refused.json()["verdict"]["reasons"]}
    assert not RecordedVerdict.objects.exists()
    made = post(as_storeroom, address, body | {"reason": "breakdown, the lathe bushes it"}, key="i-2")
    assert (made.status_code, made.json()["verdict"]["grade"]) == (201, "unfit")
    assert RecordedVerdict.objects.get().reason == "breakdown, the lathe bushes it"


@pytest.mark.parametrize("kind", ["chain", "joining_link", "cranked_link"])
@pytest.mark.parametrize("address", [MOVEMENTS, f"{MOVEMENTS}found/"])
def test_chain_for_a_drive_that_runs_on_another_one_is_issued_with_a_reason_alone(
    address: str, kind: str, as_storeroom: APIClient, main: Storeroom, place: Position
) -> None:
    part = make.ChainFactory(chain_designation="10B", kind=kind)
    make.stock(make.ItemFactory(stock_number="CHN-1", specification=part), main, 5)
    body = {"item": "CHN-1", "storeroom": "MAIN", "quantity": 1, "position": "P-1"}
    body |= {"kind": "issue"} if address == MOVEMENTS else {}
    refused = post(as_storeroom, address, body)
    assert (refused.status_code, set(errors(refused))) == (400, {"/reason"})
    told = refused.json()["verdict"]
    assert (told["grade"], [one["code"] for one in told["reasons"]]) == (
        "unfit",
        ["drive_runs_on_other_chain"],
    )
    assert StockLevel.objects.get(item__stock_number="CHN-1").on_hand == 5
    made = post(as_storeroom, address, body | {"reason": "breakdown", "verdict": told["id"]}, key="i-2")
    assert (made.status_code, made.json()["verdict"]) == (201, told)
    assert RecordedVerdict.objects.get().reason == "breakdown"


def test_a_quoted_verdict_that_holds_no_longer_is_told_with_the_new_one(
    as_storeroom: APIClient, fits: Item, place: Position
) -> None:
    quoted = issue(as_storeroom, "SPR-FITS").json()["verdict"]["id"]
    assert issue(as_storeroom, "SPR-FITS", key="i-2", verdict=quoted).status_code == 201
    Position.objects.update(shaft_diameter_mm=22)
    for stale in (
        issue(as_storeroom, "SPR-FITS", key="i-3", verdict=quoted, reason="breakdown"),
        fit(as_storeroom, "SPR-FITS", verdict=quoted, installed_why="breakdown"),
    ):
        found = stale.json()
        assert (stale.status_code, found["code"]) == (409, "quoted_verdict_is_stale")
        assert (found["verdict"]["grade"], found["values"]["grade"]) == ("unfit", "unfit")
    new = found["verdict"]["id"]
    assert issue(as_storeroom, "SPR-FITS", key="i-4", verdict=new, reason="breakdown").status_code == 201


def test_fitting_freezes_what_differs(as_storeroom: APIClient, unfit: Item, place: Position) -> None:
    refused = fit(as_storeroom, "SPR-UNFIT")
    assert (refused.status_code, set(errors(refused))) == (400, {"/installed_why"})
    assert (Installation.objects.count(), refused.json()["verdict"]["grade"]) == (0, "unfit")
    said = {"installed_why": "breakdown", "differences": ["sleeved on the lathe"]}
    unit = fit(as_storeroom, "SPR-UNFIT", **said).json()
    assert (unit["verdict"]["grade"], unit["awaits_approval"]) == ("unfit", False)
    assert "mounting" in {one["aspect"] for one in unit["differences"][:-1]}
    assert unit["differences"][-1] == "sleeved on the lathe"


def test_the_reason_of_the_issue_need_not_be_said_again(
    as_storeroom: APIClient, unfit: Item, place: Position
) -> None:
    issued = issue(as_storeroom, "SPR-UNFIT", reason="breakdown").json()["id"]
    assert fit(as_storeroom, "SPR-UNFIT", movement=issued).status_code == 201
    assert RecordedVerdict.objects.get(installation__isnull=False).reason == "breakdown"


@pytest.mark.parametrize("name", ["approved_by", "approval_reference"])
def test_the_storeroom_does_not_type_who_approved(
    name: str, as_storeroom: APIClient, fits: Item, place: Position
) -> None:
    refused = fit(as_storeroom, "SPR-FITS", temporary_until=str(TODAY), **{name: "Ines Okafor"})
    assert (refused.status_code, set(errors(refused))) == (400, {f"/{name}"})
    temporary = fit(as_storeroom, "SPR-FITS", temporary_until=str(TODAY)).json()
    assert (temporary["awaits_approval"], temporary["approved_by"]) == (True, None)


def approval(name: str = "Ines Okafor", days: int = 5) -> dict[str, Any]:
    return {"approved_by": name, "until_on": str(TODAY + timedelta(days=days))}


def test_where_the_plant_says_so_another_person_approves_afterwards(
    as_storeroom: APIClient, as_manager: APIClient, unfit: Item, place: Position
) -> None:
    four_eyes("may_follow")
    unit = fit(as_storeroom, "SPR-UNFIT", installed_why="breakdown").json()
    assert unit["awaits_approval"] is True
    assert Event.objects.get(type="substitution.awaits_approval").data["requested_by"] == "the storeroom"
    assert names(as_storeroom.get(f"{INSTALLATIONS}?awaits_approval=true"), "id") == [unit["id"]]
    path = f"{INSTALLATIONS}{unit['id']}/approvals/"
    own = post(as_manager, path, approval("The  Storeroom"), key="a-1")
    assert (own.status_code, own.json()["code"]) == (400, "approver_is_requester")
    assert not Approval.objects.exists()
    made = post(as_manager, path, approval(), key="a-2")
    assert made.status_code == 201
    assert made.json()["differences"]
    shown = as_storeroom.get(f"{INSTALLATIONS}{unit['id']}/").json()
    assert (shown["awaits_approval"], shown["differences"]) == (False, made.json()["differences"])
    twice = post(as_manager, path, approval("Jonas Brandt"), key="a-3")
    assert (twice.status_code, twice.json()["code"]) == (409, "substitution_already_approved")
    assert post(as_manager, path, approval(days=9), key="a-4").status_code == 201


def test_who_recorded_the_unit_does_not_approve_it(
    as_manager: APIClient, unfit: Item, place: Position
) -> None:
    four_eyes("may_follow")
    unit = fit(as_manager, "SPR-UNFIT", installed_why="breakdown").json()
    own = post(as_manager, f"{INSTALLATIONS}{unit['id']}/approvals/", approval())
    assert (own.status_code, own.json()["code"]) == (400, "approver_is_requester")


def test_where_the_plant_wants_it_before_the_issue_is_free_and_the_fitting_is_not(
    as_storeroom: APIClient, as_manager: APIClient, unfit: Item, place: Position
) -> None:
    four_eyes("before_fitting")
    issued = issue(as_storeroom, "SPR-UNFIT", reason="breakdown").json()["id"]
    said = {"movement": issued, "installed_why": "breakdown"}
    refused = fit(as_storeroom, "SPR-UNFIT", **said)
    assert (refused.status_code, refused.json()["code"]) == (409, "approval_needed_before_fitting")
    assert refused.json()["verdict"]["grade"] == "unfit"
    own = fit(as_manager, "SPR-UNFIT", **said, approved_by="the storeroom")
    assert (own.status_code, own.json()["code"]) == (400, "approver_is_requester")
    assert fit(as_manager, "SPR-UNFIT", **said, approved_by="Ines Okafor").status_code == 201


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_of_two_approvals_at_the_same_moment_one_is_refused() -> None:
    from_now = TODAY + timedelta(days=5)
    make.PlantFactory(timezone="UTC")
    unit = make.InstallationFactory()
    acts = [
        lambda n=n: approvals.approve(unit, by=f"M{n}", approved_by=f"M{n}", until_on=from_now)
        for n in range(8)
    ]
    assert outcomes(acts) == {"booked": 1, "Refusal": 7}
    assert Approval.objects.count() == 1

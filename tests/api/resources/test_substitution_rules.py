"""Rules for substitutes: given with a reason, withdrawn with a reason, never changed; bad input names its field."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from api.edge.scope import limit_to
from api.models import AccessToken, Change
from drives.models import SubstitutionRule
from inventory.models import Event
from tests import factories as make
from tests.api.records import API, errors, names, post

pytestmark = pytest.mark.django_db
PATH = f"{API}substitution-rules/"
TODAY = timezone.now().date()


@pytest.fixture(autouse=True)
def place(db: None) -> Any:
    """Its day begins with that of the tests."""
    make.PlantFactory(timezone="UTC")
    for number, hardened in (("A", True), ("B", False)):
        part = make.SprocketFactory(hardened_teeth=hardened)
        make.ItemFactory(stock_number=number, specification=part)
    return make.PositionFactory(hardened_teeth=True, tag="STEEP-P1")


def body(**changes: Any) -> dict[str, Any]:
    given = {"kind": "replaces", "item": "B", "instead_of": "A", "position": "STEEP-P1"}
    return {**given, "reason": "ran two seasons", "given_by": "Ines Okafor", **changes}


def limited(plant: str) -> APIClient:
    token, secret = AccessToken.objects.issue(f"of {plant}", role="manager")
    limit_to({"token": token}, [make.PlantFactory(code=plant)], [])
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return client


def test_a_rule_is_given_and_shown_with_the_candidate(as_manager: APIClient) -> None:
    response = post(as_manager, PATH, body())
    assert response.status_code == 201, response.content
    rule = response.json()
    assert (rule["plant"], rule["recorded_by"], rule["valid_from"], rule["valid_until"]) == (
        "WEIR",
        "the manager",
        str(TODAY),
        None,
    )
    assert as_manager.get(response["Location"]).json() == rule
    found = as_manager.get(f"{API}positions/STEEP-P1/substitutes/").json()
    [offer] = [one for one in found["results"] if one["item"]["stock_number"] == "B"]
    [check] = [one for one in offer["verdict"]["checks"] if one["aspect"] == "rule"]
    assert (offer["verdict"]["grade"], check["code"], check["outcome"]) == ("drop_in", "rule_replaces", "ok")
    assert check["explanation"] == (
        f"B replaces A here. Ines Okafor decided so from {TODAY:%-d %b %Y} until withdrawn: ran two seasons."
    )
    checked = {"required": {"position": "STEEP-P1"}, "offered": {"item": "B"}}
    assert as_manager.post(f"{API}interchange/check/", checked).json()["grade"] == "drop_in"
    assert Event.objects.get().type == "substitution_rule.given"
    assert Change.objects.get().key.startswith("B")


def test_the_same_key_gives_one_rule(as_manager: APIClient) -> None:
    assert post(as_manager, PATH, body()).json() == post(as_manager, PATH, body()).json()
    assert SubstitutionRule.objects.count() == 1


def test_a_withdrawn_rule_stays_on_record_without_effect(as_manager: APIClient) -> None:
    rule = post(as_manager, PATH, body()).json()
    path = f"{PATH}{rule['id']}/withdraw/"
    assert errors(post(as_manager, path, {"reason": " "}, key="k-2"))["/reason"]
    gone = post(as_manager, path, {"reason": "teeth wore"}, key="k-3").json()
    assert (gone["withdrawn_by"], gone["withdrawal_reason"]) == ("the manager", "teeth wore")
    checked = {"required": {"position": "STEEP-P1"}, "offered": {"item": "B"}}
    assert as_manager.post(f"{API}interchange/check/", checked).json()["grade"] == "needs_review"
    again = post(as_manager, path, {"reason": "once more"}, key="k-4")
    assert (again.status_code, again.json()["code"]) == (409, "rule_withdrawn_already")
    assert post(as_manager, PATH, body(), key="k-5").status_code == 201
    assert names(as_manager.get(f"{PATH}?withdrawn=true"), "id") == [rule["id"]]


@pytest.mark.parametrize(
    ("changes", "field", "code"),
    [
        ({"instead_of": "B"}, "/instead_of", "rule_against_itself"),
        ({"instead_of": None}, "/instead_of", "rule_replaces_nothing"),
        ({"kind": "never"}, "/instead_of", "rule_never_replaces"),
        ({"valid_from": str(TODAY), "valid_until": str(TODAY - timedelta(1))}, "/valid_until", None),
        ({"valid_from": "2020-01-01", "valid_until": "2020-02-01"}, "/valid_until", "rule_over_already"),
        ({"reason": " "}, "/reason", None),
        ({"given_by": ""}, "/given_by", None),
        ({"item": "KEY"}, "/item", "rule_of_no_sprocket"),
        ({"item": "NONE"}, "/item", None),
        ({"position": "FAR-P1"}, "/position", None),
        ({"drive": "STEEP-D"}, "/drive", "rule_at_two_places"),
        ({"plant": "HILL"}, "/plant", "rule_at_another_plant"),
        ({"kind": "sometimes"}, "/kind", None),
        ({"reason": "x" * 201}, "/reason", None),
    ],
)
def test_bad_input_names_its_field_and_writes_nothing(
    as_manager: APIClient, changes: Any, field: str, code: str | None
) -> None:
    make.ItemFactory(stock_number="KEY", specification=make.KeyFactory())
    make.PlantFactory(code="HILL")
    make.DriveFactory(tag="STEEP-D")
    response = post(as_manager, PATH, body(**changes))
    assert response.status_code == 400, response.content
    found = {row["pointer"]: row for row in response.json()["errors"]}
    assert set(found) == {field}
    assert code is None or found[field]["code"] == code
    assert not SubstitutionRule.objects.exists()


def test_the_same_rule_is_not_given_twice_on_the_same_days(as_manager: APIClient) -> None:
    until = str(TODAY + timedelta(10))
    assert post(as_manager, PATH, body(valid_until=until)).status_code == 201
    second = post(as_manager, PATH, body(), key="k-2")
    assert (second.status_code, set(errors(second))) == (400, {"/item"})
    later = body(valid_from=str(TODAY + timedelta(11)))
    assert post(as_manager, PATH, later, key="k-3").status_code == 201
    assert post(as_manager, PATH, body(position=None, plant="WEIR"), key="k-4").status_code == 201


def test_only_managers_give_rules(as_storeroom: APIClient, as_integration: APIClient) -> None:
    for client in (as_storeroom, as_integration):
        assert post(client, PATH, body()).status_code == 403
    assert as_storeroom.get(PATH).status_code == 200


def test_a_manager_of_one_plant_rules_there_alone(as_manager: APIClient) -> None:
    everywhere = post(as_manager, PATH, body(position=None)).json()
    here = post(as_manager, PATH, body(), key="k-2").json()
    hill = limited("HILL")
    assert names(hill.get(PATH), "id") == [everywhere["id"]]
    assert set(errors(post(hill, PATH, body(), key="k-3"))) == {"/position"}
    assert errors(post(hill, PATH, body(position=None), key="k-4"))["/plant"]
    assert post(hill, f"{PATH}{here['id']}/withdraw/", {"reason": "no"}, key="k-5").status_code == 404
    refused = post(hill, f"{PATH}{everywhere['id']}/withdraw/", {"reason": "no"}, key="k-6")
    assert (refused.status_code, refused.json()["code"]) == (409, "rule_for_all_plants")

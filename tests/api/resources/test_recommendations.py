from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from inventory.models import Item, Recommendation, StockPolicy
from inventory.planning import decide
from tests import factories as make
from tests.api.records import errors, names, post
from tests.conftest import ClientFor
from tests.inventory.planning.worlds import current, need_of, run_over

pytestmark = pytest.mark.django_db
PATH = "/api/v1/recommendations/"


@pytest.fixture
def sprocket(db: None) -> Item:
    return make.ItemFactory(stock_number="SPR-1")


@pytest.fixture
def advised(sprocket: Item) -> Recommendation:
    run_over([need_of(sprocket, evidence={"events": [{"at": "2025-01-07"}]})])
    return current().get()


def address(one: Recommendation, act: str = "") -> str:
    return f"{PATH}{one.pk}/{act}"


def test_it_shows_levels_money_and_reasons(as_viewer: APIClient, advised: Recommendation) -> None:
    response = as_viewer.get(address(advised))
    found = response.json()
    assert (found["item"], found["storeroom"], found["state"], found["changed"]) == (
        "SPR-1",
        "MAIN",
        "open",
        True,
    )
    assert (found["reorder_point"], found["order_up_to"]) == (2, 3)
    assert found["holding_cost_per_year"] == str(advised.holding_cost_per_year)
    assert (found["today"], found["review_on"]) == ({}, "2027-03-02")
    assert found["evidence"]["events"] == [{"at": "2025-01-07"}]
    assert found["reasons"][0] == {
        "code": "recorded_text",
        "values": {"text": "4 requests a year."},
        "explanation": "4 requests a year.",
    }
    values_of = {one["code"]: one["values"] for one in found["reasons"]}
    assert values_of["levels_recommended"] == {"reorder_point": 2, "order_up_to": 3}
    (reason,) = found["evidence"]["lead_time"]["reasons"]
    assert (reason["code"], reason["values"]) == ("lead_time_entered", {"days": 45, "orders": 0})
    assert reason["explanation"].startswith("As entered")
    assert "ETag" in response


def test_the_list_leaves_the_evidence_out(as_viewer: APIClient, advised: Recommendation) -> None:
    (row,) = as_viewer.get(PATH).json()["results"]
    assert "evidence" not in row
    assert row["reasons"]
    assert row["since_last"] == []


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("", ["SPR-1", "SPR-2"]),
        ("storeroom=MAIN", ["SPR-1", "SPR-2"]),
        ("storeroom=NORTH", []),
        ("item=SPR-2", ["SPR-2"]),
        ("changed=true", ["SPR-2"]),
        ("changed=false", ["SPR-1"]),
        ("state=accepted", ["SPR-1"]),
        ("state=superseded", ["SPR-2"]),
        ("state=open,superseded&ordering=-id", ["SPR-2", "SPR-2"]),
        ("importance=vital", ["SPR-2"]),
        ("is_answered=false", []),
        ("rate_per_year__gte=5", ["SPR-2"]),
        ("q=spr-2", ["SPR-2"]),
    ],
)
def test_it_can_be_narrowed(as_viewer: APIClient, sprocket: Item, query: str, found: list[str]) -> None:
    other = make.ItemFactory(stock_number="SPR-2")
    run_over([need_of(sprocket), need_of(other)])
    decide.accept(current().get(item=sprocket), by="Ines Okafor")
    run_over([need_of(sprocket), need_of(other, rate=9.0, importance="vital")])
    assert names(as_viewer.get(f"{PATH}?{query}"), "item") == found


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("state=new", "state"),
        ("changed=1", "changed"),
        ("stat=open", "stat"),
        ("importance=high", "importance"),
    ],
)
def test_a_filter_that_is_not_understood_is_refused(as_viewer: APIClient, query: str, name: str) -> None:
    response = as_viewer.get(f"{PATH}?{query}")
    assert (response.status_code, set(errors(response))) == (400, {f"/{name}"})


def test_accepting_sets_the_policy(as_manager: APIClient, advised: Recommendation) -> None:
    response = as_manager.post(address(advised, "accept/"))
    assert (response.status_code, response.json()["state"]) == (200, "accepted")
    assert response.json()["decided_by"] == "the manager"
    assert response["ETag"] == as_manager.get(address(advised))["ETag"]
    policy = StockPolicy.objects.get()
    assert (policy.reorder_point, policy.order_up_to, policy.set_by_name) == (2, 3, "the manager")


def test_a_decision_is_taken_back_to_the_policy_before_it(
    as_manager: APIClient, advised: Recommendation
) -> None:
    assert as_manager.post(address(advised, "reopen/")).json()["code"] == "recommendation_not_decided"
    as_manager.post(address(advised, "accept/"), {"reason": "with the others"})
    assert StockPolicy.objects.get().reason == "with the others"
    assert as_manager.post(address(advised, "reopen/")).json()["state"] == "open"
    assert not StockPolicy.objects.exists()
    policy = make.StockPolicyFactory(
        item=advised.item, storeroom=advised.storeroom, reorder_point=7, order_up_to=9
    )
    as_manager.post(address(advised, "accept/"))
    as_manager.post(address(advised, "reopen/"))
    policy.refresh_from_db()
    assert (policy.reorder_point, policy.order_up_to, policy.set_by_name) == (7, 9, "")
    as_manager.post(address(advised, "accept/"))
    path = f"/api/v1/stock-policies/{policy.pk}/"
    tag = as_manager.get(path)["ETag"]
    as_manager.patch(path, {"order_up_to": 12}, headers={"If-Match": tag})
    late = as_manager.post(address(advised, "reopen/"))
    assert (late.status_code, late.json()["code"]) == (409, "policy_set_since_decision")


def test_amending_and_declining_keep_the_reason(as_manager: APIClient, advised: Recommendation) -> None:
    body = {"reorder_point": 1, "order_up_to": 7, "reason": "boxes of six"}
    assert as_manager.post(address(advised, "amend/"), body).json()["state"] == "amended"
    assert StockPolicy.objects.get().order_up_to == 7
    run_over([])
    run_over([need_of(advised.item)])
    newest = current().get()
    no = as_manager.post(address(newest, "decline/"), {"reason": "the line closes"})
    assert (no.json()["state"], no.json()["decision_reason"]) == ("declined", "the line closes")
    assert StockPolicy.objects.get().order_up_to == 7


def test_the_same_key_decides_once(as_manager: APIClient, advised: Recommendation) -> None:
    first = post(as_manager, address(advised, "accept/"), {})
    again = post(as_manager, address(advised, "accept/"), {})
    assert (first.status_code, again.status_code, again.content) == (200, 200, first.content)
    assert again["Idempotency-Replayed"] == "true"


def test_what_is_decided_or_replaced_conflicts(as_manager: APIClient, advised: Recommendation) -> None:
    as_manager.post(address(advised, "accept/"))
    twice = as_manager.post(address(advised, "decline/"), {"reason": "the line closes"})
    assert (twice.status_code, "it is accepted" in twice.json()["detail"]) == (409, True)
    assert twice.json()["code"] == "recommendation_already_decided"
    assert twice.json()["values"] == {"decided_by": "the manager", "state": "accepted"}
    run_over([need_of(advised.item, rate=9.0)])
    old = as_manager.post(address(advised, "accept/"))
    assert (old.status_code, old.json()["code"]) == (409, "recommendation_superseded")


def test_what_changed_since_the_last_one_has_code_and_values(
    as_viewer: APIClient, advised: Recommendation
) -> None:
    run_over([need_of(advised.item, rate=9.0)])
    found = as_viewer.get(address(current().get())).json()
    assert found["since_last"][0] == {
        "code": "input_changed",
        "values": {"input": "rate_per_year", "before": 4.0, "after": 9.0},
        "explanation": "Demand a year changed from 4 to 9.",
    }


def test_levels_that_cannot_be_are_refused_with_a_code(
    as_manager: APIClient, advised: Recommendation
) -> None:
    body = {"reorder_point": 3, "order_up_to": 3, "reason": "boxes"}
    (row,) = as_manager.post(address(advised, "amend/"), body).json()["errors"]
    assert (row["pointer"], row["code"], row["values"]) == (
        "/order_up_to",
        "order_up_to_too_low",
        {"reorder_point": 3},
    )


@pytest.mark.parametrize(
    ("act", "body", "wrong"),
    [
        ("accept/", {"why": "x"}, {"/why"}),
        ("decline/", {}, {"/reason"}),
        ("decline/", {"reason": " "}, {"/reason"}),
        ("decline/", {"reason": "x" * 301}, {"/reason"}),
        ("amend/", {}, {"/reason", "/reorder_point", "/order_up_to"}),
        (
            "amend/",
            {"reorder_point": 1.5, "order_up_to": "4", "reason": 7},
            {"/reason", "/reorder_point", "/order_up_to"},
        ),
        ("amend/", {"reorder_point": 3, "order_up_to": 3, "reason": "x"}, {"/order_up_to"}),
        ("amend/", {"reorder_point": -1, "order_up_to": 3, "reason": "x"}, {"/reorder_point"}),
    ],
)
def test_every_bad_member_is_named(
    as_manager: APIClient, advised: Recommendation, act: str, body: dict[str, Any], wrong: set[str]
) -> None:
    response = as_manager.post(address(advised, act), body)
    assert (response.status_code, set(errors(response))) == (400, wrong)
    assert not StockPolicy.objects.exists()


@pytest.mark.parametrize("role", ["viewer", "storeroom", "integration"])
def test_only_a_manager_decides(client_for: ClientFor, advised: Recommendation, role: str) -> None:
    client = client_for(role)
    assert client.get(address(advised)).status_code == 200
    for act, body in (("accept", {}), ("amend", {}), ("decline", {"reason": "x"})):
        assert client.post(address(advised, f"{act}/"), body).status_code == 403
    assert not StockPolicy.objects.exists()


def test_a_stranger_sees_nothing_and_what_is_not_there_is_missing(
    as_stranger: APIClient, as_manager: APIClient, advised: Recommendation
) -> None:
    assert as_stranger.get(PATH).status_code == 401
    assert as_manager.get(f"{PATH}999999/").status_code == 404
    assert as_manager.post(f"{PATH}999999/accept/").status_code == 404
    assert as_manager.post(f"{PATH}none/accept/").status_code == 404


def test_the_list_costs_the_same_queries_however_long(as_viewer: APIClient) -> None:
    counts = []
    for size in (1, 12):
        run_over([need_of(make.ItemFactory()) for _ in range(size)])
        with CaptureQueriesContext(connection) as queries:
            assert len(as_viewer.get(PATH).json()["results"]) == size
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 3

from typing import Any

import pytest
from rest_framework.test import APIClient

from drives.models import InboundMessage, Installation, WorkOrder
from inventory.models import Event, StockEntry
from tests import factories as make
from tests.api.records import errors, names
from tests.conftest import ClientFor
from tests.drives.feed.messages import closed, day, on_hand, order, place, used

pytestmark = pytest.mark.django_db
LIST = "/api/v1/work-orders/"
PATH = f"{LIST}planning/WO-1/"


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    place()


def test_a_new_order_is_recorded_as_it_was_sent(as_integration: APIClient) -> None:
    sent = order(1, urgency="immediate", needed_by="2026-12-14", attributes={"shift": {"a": [1, None]}})
    made = as_integration.put(PATH, sent)
    assert made.status_code == 201, made.content
    told = made.json()
    assert (told["applied"], told["outcome"], told["attributes"]) == (True, "applied", sent["attributes"])
    assert (told["position"], told["needed_by"], told["failure"]) == ("STEEP-EL1-P1", "2026-12-14", None)


def test_closing_with_a_failure_ends_the_unit_and_begins_the_next(as_integration: APIClient) -> None:
    told = as_integration.put(PATH, closed(3, day(700), [used("SPR-B")])).json()
    ended, begun = Installation.objects.get(pk=told["ended"]), Installation.objects.get(pk=told["begun"])
    assert (ended.removed_at, ended.mechanism, ended.work_order) == (day(700), "wear", "WO-1")
    assert (begun.installed_at, begun.removed_at, str(begun.item)) == (day(700), None, "SPR-B")
    assert on_hand("SPR-B") == 4
    assert begun.stock_entry == StockEntry.objects.get(work_order="WO-1")


def test_the_same_again_changes_nothing_and_tells_nobody(as_integration: APIClient) -> None:
    as_integration.put(PATH, closed(3, day(700), [used()]))
    told = Event.objects.count()
    again = as_integration.put(PATH, closed(3, day(700), [used()]))
    assert (again.status_code, again.json()["applied"], again.json()["outcome"]) == (200, False, "unchanged")
    assert (Event.objects.count(), InboundMessage.objects.count(), on_hand("SPR-A")) == (told, 1, 4)


def test_an_older_message_is_kept_as_stale(as_integration: APIClient) -> None:
    as_integration.put(PATH, closed(3, day(700), [used()]))
    older = as_integration.put(PATH, order(1))
    assert (older.status_code, older.json()["applied"], older.json()["outcome"]) == (200, False, "stale")
    assert older.json()["status"] == "closed"


def test_what_was_read_can_be_put_back(as_integration: APIClient) -> None:
    as_integration.put(PATH, closed(3, day(700), [used()]))
    again = as_integration.put(PATH, as_integration.get(PATH).json())
    assert again.status_code == 200, again.content
    assert again.json()["ended"] is not None


def test_the_address_names_the_order(as_integration: APIClient) -> None:
    as_integration.put(PATH, order(1))
    response = as_integration.put(PATH, order(2, external_id="WO-2", id=77))
    assert set(errors(response)) == {"/external_id", "/id"}


def test_every_bad_member_is_named(as_integration: APIClient) -> None:
    bad = order(1, parts_used=[{"item": "SPR-A", "quantity": 0}], needed_by="soon", colour="red")
    bad["updated_at"] = "2199-01-01T00:00:00Z"
    found = errors(as_integration.put(PATH, bad))
    assert set(found) == {"/parts_used/0/quantity", "/needed_by", "/colour", "/updated_at"}
    assert not InboundMessage.objects.exists()


def test_a_closing_says_when_the_unit_came_off(as_integration: APIClient) -> None:
    body = order(1, status="closed", failure={"mechanism": "wear"})
    assert set(errors(as_integration.put(PATH, body))) == {"/failure/removed_at"}


def test_a_closing_without_a_code_is_taken(as_integration: APIClient) -> None:
    body = order(1, status="closed", closed_at=day(700).isoformat(), failure={})
    assert as_integration.put(PATH, body).status_code == 201
    assert Installation.objects.get(removed_at=day(700)).mechanism == ""


def test_what_is_not_known_waits_and_is_not_invented(as_integration: APIClient) -> None:
    response = as_integration.put(PATH, order(1, position="STEEP-EL9-P1", parts_used=[used("SPR-X")]))
    assert response.status_code == 202, response.content
    told = response.json()
    assert [one["field"] for one in told["reasons"]] == ["position", "parts_used/0/item"]
    assert (told["applied"], WorkOrder.objects.count()) == (False, 0)


def test_a_code_that_nobody_has_read_is_kept_beside_the_order(as_integration: APIClient) -> None:
    told = as_integration.put(PATH, closed(3, day(700), failure={"mechanism": "E-17"})).json()
    assert told["unread_codes"] == {"mechanism": "E-17"}
    assert told["failure"]["mechanism"] is None


def test_each_element_of_a_bulk_is_answered(as_integration: APIClient) -> None:
    place("STEEP-EL2-P1")
    named = [
        {"source": "planning", "external_id": "WO-1"} | order(1),
        {"source": "planning", "external_id": "WO-1"} | order(1),
        {"source": "planning", "external_id": "WO-2"} | order(1, position="GONE"),
        {"source": "planning", "external_id": "WO-3"} | order(1, colour="red"),
        7,
        {"source": "planning", "external_id": "WO-4"} | order(1, position="STEEP-EL2-P1"),
    ]
    response = as_integration.post(f"{LIST}bulk/", {"messages": named})
    found = response.json()["results"]
    assert [one["status"] for one in found] == [201, 200, 202, 400, 400, 201]
    assert [one["index"] for one in found] == list(range(6))
    assert [one["outcome"] for one in found][:3] == ["applied", "unchanged", "waiting"]
    assert found[3]["errors"][0]["pointer"] == "/colour"


def test_a_bulk_holds_a_thousand(as_integration: APIClient) -> None:
    response = as_integration.post(f"{LIST}bulk/", {"messages": [{}] * 1001})
    assert response.status_code == 400


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("status=open", ["WO-2"]),
        ("kind=corrective&position=STEEP-EL1-P1", ["WO-1", "WO-2"]),
        ("needed_by__lte=2026-12-31", ["WO-2"]),
        ("has_failure=true", ["WO-1"]),
        ("mechanism=fracture", []),
    ],
)
def test_orders_are_filtered(query: str, found: list[str], as_integration: APIClient) -> None:
    as_integration.put(PATH, closed(3, day(700), [used()]))
    as_integration.put(f"{LIST}planning/WO-2/", order(1, needed_by="2026-12-14"))
    assert sorted(names(as_integration.get(f"{LIST}?{query}"), "external_id")) == found


def test_an_unknown_filter_is_refused(as_integration: APIClient) -> None:
    assert as_integration.get(f"{LIST}?colour=red").status_code == 400


@pytest.mark.parametrize("role", ["viewer", "storeroom"])
def test_only_those_who_connect_systems_write(role: str, client_for: ClientFor) -> None:
    client = client_for(role)
    assert client.put(PATH, order(1)).status_code == 403
    assert client.post(f"{LIST}bulk/", {"messages": []}).status_code == 403
    assert client.get(LIST).status_code == 200


def test_a_stranger_gets_nothing(as_stranger: APIClient) -> None:
    assert as_stranger.put(PATH, order(1)).status_code == 401


def test_an_order_not_known_is_not_found(as_viewer: APIClient) -> None:
    assert as_viewer.get(PATH).status_code == 404


@pytest.mark.parametrize("number", ["%00", "x" * 61, "a%0Ab", "%E2%80%AE"])
def test_a_number_that_cannot_be_kept_is_refused(number: str, as_integration: APIClient) -> None:
    assert as_integration.put(f"{LIST}planning/{number}/", order(1)).status_code in (400, 404)


def test_the_list_costs_a_fixed_number_of_queries(
    as_integration: APIClient, django_assert_num_queries: Any
) -> None:
    for number in range(3):
        as_integration.put(f"{LIST}planning/WO-{number}/", order(1))
    as_integration.get(LIST)
    with django_assert_num_queries(2):
        assert len(as_integration.get(LIST).json()["results"]) == 3


def test_both_sides_can_prove_that_they_know_the_same(as_integration: APIClient) -> None:
    as_integration.put(PATH, order(1))
    as_integration.put(PATH, order(30))
    as_integration.put(f"{LIST}planning/WO-2/", order(2, position="GONE"))
    address = f"{LIST}reconciliation/?source=planning&from=2024-06-01&to=2024-12-31"
    days = as_integration.get(address).json()["days"]
    assert [(one["day"], one["count"], one["waiting"]) for one in days] == [
        ("2024-06-28", 1, 1),
        ("2024-06-29", 1, 0),
    ]
    assert len(days[0]["hash"]) == 64


@pytest.mark.parametrize("query", ["", "?source=planning", "?source=planning&from=2024-06-02&to=2024-06-01"])
def test_a_reconciliation_says_of_what_and_when(query: str, as_viewer: APIClient) -> None:
    assert as_viewer.get(f"{LIST}reconciliation/{query}").status_code == 400


def test_a_job_needs_neither_a_place_nor_a_machine(as_manager: APIClient) -> None:
    body = order(1, equipment=make.EquipmentFactory().tag) | {"position": None}
    assert as_manager.put(PATH, body).json()["equipment"] == "STEEP-EL1"

import pytest
from rest_framework.test import APIClient

from drives.models import InboundMessage, WorkOrder
from inventory.models import Event
from tests import factories as make
from tests.api.records import names, post
from tests.drives.feed.messages import closed, day, on_hand, order, place, send, used

pytestmark = pytest.mark.django_db
LIST = "/api/v1/inbound-messages/"


@pytest.fixture
def waiting(db: None) -> InboundMessage:
    place()
    return send("WO-1", closed(3, day(700), [used("SPR-X")])).message


def test_what_waits_is_seen_with_its_reasons(waiting: InboundMessage, as_viewer: APIClient) -> None:
    send("WO-2", order(1))
    assert names(as_viewer.get(f"{LIST}?outcome=waiting"), "external_id") == ["WO-1"]
    (reason,) = as_viewer.get(f"{LIST}{waiting.pk}/").json()["reasons"]
    assert (reason["field"], reason["value"]) == ("parts_used/0/item", "SPR-X")
    assert (reason["code"], reason["values"]) == ("record_not_found", {"kind": "item", "name": "SPR-X"})
    assert reason["detail"] == 'There is no item "SPR-X": record it, or correct the message.'
    assert Event.objects.filter(type="message.waiting").count() == 1
    (event,) = as_viewer.get("/api/v1/events/?type=message.waiting").json()["results"]
    assert event["data"]["reasons"][0]["explanation"] == reason["detail"]


def test_a_reason_that_was_stored_as_a_sentence_is_still_readable(
    waiting: InboundMessage, as_viewer: APIClient
) -> None:
    stored = {"about": "unknown", "field": "position", "value": "P-9", "detail": "There is no position."}
    InboundMessage.objects.filter(pk=waiting.pk).update(reasons=[stored])
    (reason,) = as_viewer.get(f"{LIST}{waiting.pk}/").json()["reasons"]
    assert reason == {**stored, "code": "", "values": {}, "sent_field": None}


def test_a_retry_applies_what_waited(waiting: InboundMessage, as_manager: APIClient) -> None:
    make.stock(make.ItemFactory(stock_number="SPR-X"), make.StoreroomFactory(), 2)
    shown = post(as_manager, f"{LIST}{waiting.pk}/retry/", {}).json()
    assert (shown["outcome"], shown["tries"]) == ("applied", 2)
    assert on_hand("SPR-X") == 1


def test_a_retry_too_early_leaves_it_waiting(waiting: InboundMessage, as_manager: APIClient) -> None:
    assert post(as_manager, f"{LIST}{waiting.pk}/retry/", {}).json()["outcome"] == "waiting"


def test_a_person_discards_it_and_says_why(waiting: InboundMessage, as_manager: APIClient) -> None:
    shown = post(as_manager, f"{LIST}{waiting.pk}/discard/", {"reason": "typed twice"}).json()
    assert (shown["outcome"], shown["settled_reason"]) == ("discarded", "typed twice")
    assert shown["settled_by_name"] == "the manager"
    make.ItemFactory(stock_number="SPR-X")
    assert send("WO-1", closed(3, day(700), [used("SPR-X")])).outcome == "discarded"
    assert not WorkOrder.objects.exists()


def test_a_discard_needs_a_reason(waiting: InboundMessage, as_manager: APIClient) -> None:
    assert post(as_manager, f"{LIST}{waiting.pk}/discard/", {}).status_code == 400


def test_what_is_settled_is_not_settled_again(waiting: InboundMessage, as_manager: APIClient) -> None:
    applied = send("WO-2", order(1)).message
    assert post(as_manager, f"{LIST}{applied.pk}/retry/", {}, "a").status_code == 409
    assert post(as_manager, f"{LIST}{applied.pk}/discard/", {"reason": "no"}, "b").status_code == 409


def test_only_a_person_in_charge_discards(
    waiting: InboundMessage, as_integration: APIClient, as_storeroom: APIClient
) -> None:
    for client in (as_integration, as_storeroom):
        assert post(client, f"{LIST}{waiting.pk}/discard/", {"reason": "no"}).status_code == 403


def test_what_is_in_force_but_for_a_shelf_is_not_discarded(as_manager: APIClient) -> None:
    place()
    short = send("WO-1", closed(3, day(700), [used("SPR-B", 9)])).message
    response = post(as_manager, f"{LIST}{short.pk}/discard/", {"reason": "no"})
    assert (short.outcome, response.status_code) == ("waiting", 409)
    assert on_hand("SPR-B") == 0


def test_messages_are_not_written_by_hand(waiting: InboundMessage, as_manager: APIClient) -> None:
    assert as_manager.post(LIST, {}).status_code == 405
    assert as_manager.delete(f"{LIST}{waiting.pk}/").status_code == 405

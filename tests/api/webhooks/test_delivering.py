import time
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.db import transaction

from api.edge.scope import limit_to
from api.models import AccessToken, Delivery, Webhook
from api.webhooks import delivering, sending
from api.webhooks.delivering import (
    JITTER,
    SCHEDULE_SECONDS,
    attempt,
    claim,
    due,
    record,
    send_due,
)
from api.webhooks.queueing import replay
from api.webhooks.retention import purge_events
from api.webhooks.sending import DeliveryAnswer
from inventory.models import Event
from inventory.plumbing.leases import database_now
from tests import factories as make
from tests.api.webhooks.receiver import Handler, Receiver, answers, receiving
from tests.api.webhooks.subscribing import SECRET, deliver, happen, pass_time, queue, subscribe, wait_of

pytestmark = pytest.mark.django_db


def test_it_sends_what_happened_signed(receiver: Receiver) -> None:
    event = happen()
    assert deliver(subscribe(receiver.url("/plant?line=2"))) == 1
    (got,) = receiver.got
    assert got.verified(SECRET)["data"] == {"change": -1}
    assert (got.path, got.headers["content-type"]) == ("/plant?line=2", "application/json")
    delivery = Delivery.objects.get(event=event)
    assert (delivery.state, delivery.attempts, delivery.last_status) == ("delivered", 1, 200)
    assert deliver(Webhook.objects.get()) == 0


def test_a_change_that_is_rolled_back_is_told_to_nobody(receiver: Receiver) -> None:
    webhook = subscribe(receiver.url())
    with transaction.atomic():
        happen()
        transaction.set_rollback(True)
    assert (deliver(webhook), receiver.got) == (0, [])


def test_it_fails_three_times_and_comes_with_the_same_id_and_bytes(receiver: Receiver) -> None:
    receiver.script += [answers(500), answers(404), answers(503)]
    happen()
    webhook = subscribe(receiver.url())
    for _ in range(4):
        assert deliver(webhook) == 1
        assert deliver(webhook) == 0
        pass_time(hours=1)
        time.sleep(1.01)  # The time of a signature counts whole seconds.
    assert len({(got.id, got.body) for got in receiver.got}) == 1
    assert len({got.headers["webhook-timestamp"] for got in receiver.got}) == 4
    assert len({got.headers["webhook-signature"] for got in receiver.got}) == 4
    assert all(got.verified(SECRET) for got in receiver.got)
    delivery = Delivery.objects.get()
    assert (delivery.state, delivery.attempts, Webhook.objects.get().failing_since) == ("delivered", 4, None)


def test_it_waits_longer_each_time_then_gives_up(receiver: Receiver) -> None:
    receiver.script += [answers(500)] * 12
    happen()
    webhook = subscribe(receiver.url())
    for wait in SCHEDULE_SECONDS[1:]:
        assert deliver(webhook) == 1
        assert wait * (1 - JITTER) - 5 < wait_of(Delivery.objects.get()) <= wait * (1 + JITTER)
        assert deliver(webhook) == 0
        pass_time(seconds=wait * (1 + JITTER))
    assert (deliver(webhook), Delivery.objects.get().state) == (1, "dead")
    assert (deliver(webhook), len(receiver.got)) == (0, len(SCHEDULE_SECONDS))


def test_a_redirect_is_a_failure_and_is_not_followed(receiver: Receiver) -> None:
    receiver.script += [answers(302, location=receiver.url("/inside")), answers(307, location="/x")]
    happen()
    webhook = subscribe(receiver.url())
    deliver(webhook)
    delivery = Delivery.objects.get()
    assert (delivery.state, delivery.last_status, len(receiver.got)) == ("waiting", 302, 1)
    assert "redirects are not followed" in delivery.last_error


def test_gone_disables_at_once_and_says_so(receiver: Receiver) -> None:
    receiver.script += [answers(410)]
    happen()
    webhook, other = subscribe(receiver.url()), subscribe(receiver.url("/other"), types=["webhook.disabled"])
    deliver(webhook)
    webhook.refresh_from_db()
    assert (webhook.state, webhook.state_reason[:25]) == ("disabled", "The endpoint answered 410")
    happen()
    pass_time(days=1)
    assert deliver(webhook) == 0
    assert deliver(other) == 1
    assert receiver.got[-1].verified(SECRET)["data"]["webhook"] == webhook.pk


@pytest.mark.parametrize("status", [429, 502, 503, 504])
def test_a_request_for_patience_holds_the_whole_queue(receiver: Receiver, status: int) -> None:
    receiver.script += [answers(status, retry_after="900")]
    happen("item/1")
    happen("item/2")
    webhook = subscribe(receiver.url())
    assert deliver(webhook) == 1
    assert 890 < wait_of(Delivery.objects.get(attempts=1)) <= 900
    pass_time(seconds=880)
    assert deliver(webhook) == 0
    pass_time(seconds=20)
    assert deliver(webhook) == 2


def test_patience_until_a_date_is_understood_and_bounded(receiver: Receiver) -> None:
    receiver.script += [
        answers(503, retry_after="Fri, 31 Dec 2099 23:59:59 GMT"),
        answers(503, retry_after="soon"),
    ]
    happen()
    webhook = subscribe(receiver.url())
    deliver(webhook)
    assert 86_300 < wait_of(Delivery.objects.get()) <= 86_400
    pass_time(days=1)
    deliver(webhook)
    assert wait_of(Delivery.objects.get()) < 400


def test_a_slow_answer_is_cut_off_in_time(receiver: Receiver, settings: Any) -> None:
    def drip(handler: Handler) -> None:
        handler.wfile.write(b"HTTP/1.1 200 OK\r\n")
        for _ in range(100):
            handler.wfile.write(b"x: y\r\n")
            time.sleep(0.1)

    settings.WEBHOOK_TIMEOUT_SECONDS = 1
    receiver.script += [drip]
    happen()
    began = time.monotonic()
    deliver(subscribe(receiver.url()))
    assert 0.9 < time.monotonic() - began < 3
    assert Delivery.objects.get().last_error == "No answer within 1 s."


def test_silence_between_two_bytes_is_cut_off(receiver: Receiver, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sending, "READ_SECONDS", 0.3)
    receiver.script += [lambda handler: time.sleep(2)]
    happen()
    deliver(subscribe(receiver.url()))
    assert Delivery.objects.get().last_error.startswith("No answer within")


def test_of_an_endless_body_little_is_read(receiver: Receiver) -> None:
    sent = 0

    def pour(handler: Handler) -> None:
        nonlocal sent
        handler.send_response(200)
        handler.send_header("content-length", str(100 * 2**20))
        handler.end_headers()
        for _ in range(1600):
            sent += handler.wfile.write(b"\xff" * 2**16)

    receiver.script += [pour]
    happen()
    deliver(subscribe(receiver.url()))
    assert Delivery.objects.get().state == "delivered"
    assert sent < 20 * 2**20  # What fits into the buffers of the two sockets.


def test_what_is_no_answer_is_a_failure(receiver: Receiver) -> None:
    receiver.script += [
        lambda handler: handler.wfile.write(b"\xff\xfe garbage\r\n\r\n"),
        lambda handler: handler.finish(),
    ]
    happen()
    webhook = subscribe(receiver.url())
    deliver(webhook)
    assert Delivery.objects.get().last_error == "No answer: BadStatusLine."


def test_nothing_goes_inside_when_the_operator_closes_it(receiver: Receiver, settings: Any) -> None:
    happen()
    webhook = subscribe(receiver.url())
    settings.WEBHOOK_ALLOWED_HOSTS = []
    deliver(webhook)
    assert receiver.got == []
    assert "has an internal address" in Delivery.objects.get().last_error


def test_the_name_is_looked_up_once_and_kept_as_the_host(
    receiver: Receiver, settings: Any, monkeypatch: Any
) -> None:
    asked: list[str] = []
    look_up = sending.socket.getaddrinfo

    def watch(host: str, *args: Any, **kwargs: Any) -> Any:
        if host == "receiver.plant.example":
            asked.append(host)
            host = "127.0.0.1" if len(asked) == 1 else "169.254.169.254"
        return look_up(host, *args, **kwargs)

    monkeypatch.setattr(sending.socket, "getaddrinfo", watch)
    happen()
    deliver(subscribe(f"http://receiver.plant.example:{receiver.port}/hook"))
    assert len(asked) == 1
    assert receiver.got[0].headers["host"] == f"receiver.plant.example:{receiver.port}"


def test_a_name_that_moves_inside_is_sent_to_where_it_was_checked_and_then_to_nowhere(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    answered = iter(["127.0.0.2", "127.0.0.1", "127.0.0.1"])
    look_up = sending.socket.getaddrinfo

    def rebind(host: str, *args: Any, **kwargs: Any) -> Any:
        return look_up(next(answered) if host == "moving.example" else host, *args, **kwargs)

    monkeypatch.setattr(sending.socket, "getaddrinfo", rebind)
    with receiving(host="127.0.0.2") as checked, receiving(port=checked.port) as inside:
        settings.WEBHOOK_ALLOW_HTTP, settings.WEBHOOK_PORTS = True, [checked.port]
        settings.WEBHOOK_ALLOWED_HOSTS = ["127.0.0.2"]
        webhook = subscribe(f"http://moving.example:{checked.port}/hook")
        happen("item/1")
        deliver(webhook)
        assert (len(checked.got), inside.got) == (1, [])
        happen("item/2")
        deliver(webhook)
        assert (len(checked.got), inside.got) == (1, [])
    assert "has an internal address" in Delivery.objects.get(state="waiting").last_error


def test_no_proxy_of_the_surroundings_is_used(receiver: Receiver, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("http_proxy", "HTTP_PROXY", "all_proxy", "https_proxy"):
        monkeypatch.setenv(name, "http://127.0.0.1:1")
    happen()
    deliver(subscribe(receiver.url()))
    assert len(receiver.got) == 1


def test_a_later_event_of_an_aggregate_waits_for_the_earlier_one(receiver: Receiver) -> None:
    receiver.script += [answers(500), answers(500)]
    for _ in range(3):
        happen("item/1")
    happen("item/2")
    webhook = subscribe(receiver.url())
    assert deliver(webhook) == 2
    pass_time(minutes=1)
    assert deliver(webhook) == 4
    found = [got.verified(SECRET) for got in receiver.got]
    assert [(one["aggregate"], one["version"]) for one in found] == [
        *(("item/1", 1), ("item/2", 1)),
        *(("item/1", 1), ("item/1", 2), ("item/1", 3), ("item/2", 1)),
    ]


def test_one_success_brings_forward_what_failed_while_the_endpoint_was_down(receiver: Receiver) -> None:
    receiver.script += [answers(502)] * 6
    webhook = subscribe(receiver.url())
    for number in (1, 2):
        happen(f"item/{number}")
        happen(f"item/{number}")
    for _ in range(3):
        assert deliver(webhook) == 2
        pass_time(minutes=6)
    assert min(wait_of(row) for row in Delivery.objects.filter(attempts=3)) > 1_200
    happen("item/3")
    assert deliver(webhook) == 5
    assert set(Delivery.objects.values_list("state", flat=True)) == {"delivered"}
    found = [one.verified(SECRET) for one in receiver.got[-4:]]
    assert [(one["aggregate"], one["version"]) for one in found] == [
        *(("item/1", 1), ("item/1", 2), ("item/2", 1), ("item/2", 2)),
    ]


def test_an_event_that_is_refused_for_its_own_sake_keeps_its_schedule_while_others_are_taken(
    receiver: Receiver,
) -> None:
    webhook = subscribe(receiver.url())
    receiver.script += [answers(status) for status in (422, 422, 200, 422, 200, 422)]
    happen("item/1")
    deliver(webhook)
    pass_time(seconds=6)
    deliver(webhook)
    wait = wait_of(Delivery.objects.get())
    happen("item/2")
    assert deliver(webhook) == 2
    refused = Delivery.objects.get(state="waiting")
    assert (refused.attempts, refused.last_status) == (2, 422)
    assert wait - 2 * JITTER * 300 - 5 < wait_of(refused) <= 300 * (1 + JITTER)
    happen("item/3")
    assert (deliver(webhook), Delivery.objects.get(state="waiting").attempts) == (1, 2)
    pass_time(seconds=300 * (1 + JITTER))
    assert (deliver(webhook), Delivery.objects.get(event__aggregate="item/1").attempts) == (1, 3)


def test_an_attempt_that_was_brought_forward_brings_no_other_forward(receiver: Receiver) -> None:
    webhook = subscribe(receiver.url())
    receiver.script += [answers(500), answers(200), answers(500), answers(200)]
    happen("item/1")
    happen("item/2")
    assert deliver(webhook) == 3
    assert Webhook.objects.get().failing_since is None
    happen("item/3")
    assert deliver(webhook) == 1


def test_a_failed_event_holds_up_no_other_however_many_wait_behind_it(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(delivering, "LOOKED_UP", 3)
    receiver.script += [answers(500)]
    webhook = subscribe(receiver.url())
    for _ in range(7):
        happen("item/1")
    queue()
    assert send_due(webhook.pk) == 1
    happen("item/2")
    assert deliver(webhook) == 8
    assert set(Delivery.objects.values_list("state", flat=True)) == {"delivered"}


@pytest.mark.parametrize(("fresh_seconds", "looks"), [(60.0, 3), (0.0, 7)])
def test_a_long_queue_is_looked_through_once_for_many_deliveries_and_again_where_these_take_long(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch, fresh_seconds: float, looks: int
) -> None:
    found: list[Any] = []
    monkeypatch.setattr(delivering, "LOOKED_UP", 4)
    monkeypatch.setattr(delivering, "LOOKS_AGAIN_AFTER_SECONDS", fresh_seconds)
    monkeypatch.setattr(delivering, "due", lambda *args: found.append(args) or due(*args))
    webhook = subscribe(receiver.url())
    for number in range(6):
        happen(f"item/{number % 2}")
    assert (deliver(webhook), len(found)) == (6, looks)
    assert [one.verified(SECRET)["sequence"] for one in receiver.got] == [1, 2, 3, 4, 5, 6]


def test_an_event_that_is_sent_again_does_not_wait_behind_a_later_one_that_failed(receiver: Receiver) -> None:
    receiver.script += [answers(200), answers(500)]
    webhook = subscribe(receiver.url())
    happen()
    happen()
    assert deliver(webhook) == 2
    replay(webhook, Delivery.objects.filter(event__version=1))
    assert deliver(webhook) == 2
    assert [one.verified(SECRET)["version"] for one in receiver.got] == [1, 2, 1, 2]


def test_a_dead_event_no_longer_holds_up_the_later_ones(receiver: Receiver) -> None:
    receiver.script += [answers(500)]
    happen()
    happen()
    webhook = subscribe(receiver.url())
    queue()
    Delivery.objects.filter(event__version=1).update(attempts=len(SCHEDULE_SECONDS) - 1)
    assert send_due(webhook.pk) == 2
    assert list(Delivery.objects.order_by("id").values_list("state", flat=True)) == ["dead", "delivered"]


def test_days_of_failing_disable_it_with_a_reason(receiver: Receiver) -> None:
    receiver.script += [answers(500)] * 2
    happen()
    webhook = subscribe(receiver.url())
    deliver(webhook)
    pass_time(days=6)
    deliver(webhook)
    webhook.refresh_from_db()
    assert webhook.state == "disabled"
    assert webhook.state_reason.startswith("Every attempt since 20")
    assert Event.objects.get(type="webhook.disabled").data["reason"] == webhook.state_reason


def test_a_deliverer_that_vanishes_after_sending_sends_again_with_the_same_id(receiver: Receiver) -> None:
    happen()
    webhook = subscribe(receiver.url())
    queue()
    first = claim(webhook.pk, Delivery.objects.get().pk)
    assert first
    attempt(first)
    assert send_due(webhook.pk) == 0
    pass_time(minutes=3)
    assert send_due(webhook.pk) == 1
    assert [got.id for got in receiver.got] == [receiver.got[0].id] * 2
    record(first, DeliveryAnswer(500))
    assert Delivery.objects.get().state == "delivered"


def test_no_more_than_two_are_at_one_endpoint_at_once(receiver: Receiver) -> None:
    for n in range(4):
        happen(f"item/{n}")
    webhook = subscribe(receiver.url())
    queue()
    keys = Delivery.objects.order_by("pk").values_list("pk", flat=True)[:3]
    assert [claim(webhook.pk, key) is not None for key in keys] == [True, True, False]


def test_a_delivery_that_another_has_claimed_or_that_has_to_wait_is_not_claimed(receiver: Receiver) -> None:
    happen("item/1")
    happen("item/1")
    webhook = subscribe(receiver.url())
    queue()
    first, second = Delivery.objects.order_by("pk").values_list("pk", flat=True)
    assert claim(webhook.pk, second) is None
    assert claim(webhook.pk, first)
    assert claim(webhook.pk, first) is None


def test_it_hears_the_types_it_asked_for_from_then_on(receiver: Receiver) -> None:
    old = happen()
    queue()
    webhook = subscribe(receiver.url(), types=["stock.moved"], from_sequence=1)
    happen(type="item.changed", aggregate="item/1")
    new = happen()
    assert deliver(webhook) == 1
    assert old.pk < Delivery.objects.get().event_id == new.pk


def test_a_paused_one_gets_later_what_it_missed(receiver: Receiver) -> None:
    webhook = subscribe(receiver.url(), state="paused")
    happen()
    assert deliver(webhook) == 0
    Webhook.objects.update(state="active")
    assert deliver(webhook) == 1


def token_of(**more: Any) -> AccessToken:
    token, _ = AccessToken.objects.issue("the feed", role="integration", **more)
    return token


def test_it_hears_only_what_its_owner_may_read(receiver: Receiver) -> None:
    token, main = token_of(), make.StoreroomFactory(code="OM-MAIN")
    limit_to({"token": token}, [], [main])
    webhook = subscribe(receiver.url(), owner_user=None, owner_token=token)
    happen("a", storeroom="OM-MAIN")
    happen("b", storeroom="KILN")
    happen("c")
    assert deliver(webhook) == 2
    assert {got.verified(SECRET)["aggregate"] for got in receiver.got} == {"a", "c"}


def test_what_its_owner_may_no_longer_read_is_not_sent(receiver: Receiver) -> None:
    token = token_of()
    webhook = subscribe(receiver.url(), owner_user=None, owner_token=token)
    happen("a", storeroom="KILN")
    queue()
    limit_to({"token": token}, [], [make.StoreroomFactory(code="OM-MAIN")])
    send_due(webhook.pk)
    delivery = Delivery.objects.get()
    assert (receiver.got, delivery.state) == ([], "dead")
    assert "may not read" in delivery.last_error


@pytest.mark.parametrize("ending", ["revoked", "expired", "demoted", "inactive"])
def test_an_owner_who_is_out_hears_nothing_more(receiver: Receiver, ending: str) -> None:
    person = get_user_model().objects.create(username="ove")
    token = token_of(user=person)
    webhook = subscribe(receiver.url(), owner_user=None, owner_token=token)
    happen()
    queue()
    past = database_now() - timedelta(days=1)
    if ending == "inactive":
        get_user_model().objects.filter(pk=person.pk).update(is_active=False)
    else:
        change = {
            "revoked": {"revoked_at": past},
            "expired": {"expires_at": past},
            "demoted": {"role": "viewer"},
        }
        AccessToken.objects.filter(pk=token.pk).update(**change[ending])
    send_due(webhook.pk)
    webhook.refresh_from_db()
    assert (receiver.got, webhook.state) == ([], "disabled")
    assert "owner has ended" in webhook.state_reason


def test_a_secret_that_cannot_be_opened_is_a_failure_that_is_told(receiver: Receiver) -> None:
    happen()
    webhook = subscribe(receiver.url(), secret="closed with another key")
    deliver(webhook)
    assert "SECRET_KEY has changed" in Delivery.objects.get().last_error


def test_old_events_are_forgotten_but_numbers_and_versions_go_on(receiver: Receiver) -> None:
    webhook = subscribe(receiver.url())
    for _ in range(3):
        happen("item/1")
    happen("item/2")
    deliver(webhook)
    happen("item/1")
    queue()
    assert purge_events(database_now() - timedelta(days=1)) == 0
    assert purge_events(database_now() + timedelta(days=1)) == 3
    assert list(Event.objects.order_by("sequence").values_list("sequence", "version")) == [(4, 1), (5, 4)]
    assert happen("item/1").version == 5


def test_what_still_waits_for_a_webhook_is_not_forgotten(receiver: Receiver) -> None:
    subscribe(receiver.url())
    happen()
    happen()
    queue()
    assert purge_events(database_now() + timedelta(days=1)) == 0

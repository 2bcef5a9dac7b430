import json
from typing import Any

import pytest
from rest_framework.test import APIClient
from standardwebhooks import Webhook as Verifier

from api.edge.scope import limit_to
from api.models import AccessToken, Change, Delivery, IdempotencyRecord, Webhook
from tests import factories as make
from tests.api.records import change, errors, names, post
from tests.api.webhooks.receiver import Receiver, answers
from tests.api.webhooks.subscribing import SECRET, deliver, happen, queue, subscribe

pytestmark = pytest.mark.django_db
PATH = "/api/v1/webhooks/"


@pytest.fixture
def made(as_manager: APIClient, receiver: Receiver) -> dict[str, Any]:
    response = as_manager.post(PATH, {"url": receiver.url(), "description": "Work orders", "types": []})
    assert response.status_code == 201, response.content
    return dict(response.json())


def test_it_is_made_with_a_secret_that_is_shown_once(
    as_manager: APIClient, made: dict[str, Any], receiver: Receiver
) -> None:
    found = as_manager.get(f"{PATH}{made['id']}/")
    assert made["secret"].startswith("whsec_")
    assert {**found.json(), "secret": made["secret"]} == made
    assert made["secret"][6:] not in json.dumps(list(Webhook.objects.values()), default=str)
    happen()
    deliver(Webhook.objects.get())
    assert receiver.got[0].verified(made["secret"])["type"] == "stock.moved"


def test_the_secret_is_not_kept_with_the_key_of_the_request(
    as_manager: APIClient, receiver: Receiver
) -> None:
    first = post(as_manager, PATH, {"url": receiver.url()})
    again = post(as_manager, PATH, {"url": receiver.url()})
    assert (first.status_code, again.status_code, Webhook.objects.count()) == (201, 201, 1)
    assert again.json() == {**first.json(), "secret": None}
    assert first.json()["secret"] not in IdempotencyRecord.objects.get().body


def test_it_begins_with_what_happens_from_then_on(as_manager: APIClient, receiver: Receiver) -> None:
    happen()
    as_manager.post(PATH, {"url": receiver.url()})
    happen("item/1")
    assert deliver(Webhook.objects.get()) == 1


@pytest.mark.parametrize("role", ["storeroom", "viewer"])
def test_others_may_not_subscribe(client_for: Any, role: str, made: dict[str, Any]) -> None:
    client = client_for(role)
    assert client.post(PATH, {"url": "https://hooks.example/"}).status_code == 403
    assert client.get(PATH).status_code == 403
    assert client.get(f"{PATH}{made['id']}/deliveries/").status_code == 403


def test_every_bad_member_is_named(as_manager: APIClient) -> None:
    wrong = {"url": "https://127.1/", "types": ["Stock Moved"], "state": "disabled", "secret": "x"}
    response = as_manager.post(PATH, wrong)
    assert (response.status_code, set(errors(response))) == (400, {"/url", "/types/0", "/state", "/secret"})


@pytest.mark.parametrize(
    "host", ["127.0.0.1", "169.254.169.254", "[::1]", "10.0.0.1", "2130706433", "0177.0.0.1"]
)
def test_addresses_inside_are_refused_when_saved(
    as_manager: APIClient, receiver: Receiver, made: dict[str, Any], host: str, settings: Any
) -> None:
    settings.WEBHOOK_ALLOWED_HOSTS, settings.WEBHOOK_PORTS = [], [443]
    assert "/url" in errors(as_manager.post(PATH, {"url": f"https://{host}/"}))
    response = change(as_manager, f"{PATH}{made['id']}/", {"url": f"https://{host}/"})
    assert "/url" in errors(response)
    assert Webhook.objects.get().url == receiver.url()


def test_it_is_changed_and_deleted(as_manager: APIClient, made: dict[str, Any], receiver: Receiver) -> None:
    path = f"{PATH}{made['id']}/"
    body = {"url": receiver.url("/other"), "types": ["stock.moved"], "description": "", "state": "paused"}
    found = change(as_manager, path, body)
    assert found.status_code == 200
    assert {name: found.json()[name] for name in body} == body
    assert as_manager.patch(path, body).status_code == 428
    assert as_manager.put(path, body).status_code == 405
    assert as_manager.delete(path, HTTP_IF_MATCH='"stale"').status_code == 412
    assert as_manager.delete(path, HTTP_IF_MATCH=found["ETag"]).status_code == 204
    assert as_manager.get(path).status_code == 404


def test_a_disabled_one_goes_on_when_a_person_says_so(
    as_manager: APIClient, made: dict[str, Any], receiver: Receiver
) -> None:
    receiver.script += [answers(410)]
    happen()
    deliver(Webhook.objects.get())
    path = f"{PATH}{made['id']}/"
    assert as_manager.get(path).json()["state_reason"].startswith("The endpoint answered 410")
    found = change(as_manager, path, {"state": "active"}).json()
    assert (found["state"], found["state_reason"], found["failing_since"]) == ("active", "", None)
    assert deliver(Webhook.objects.get()) == 2


def test_only_its_owner_and_managers_without_limits_see_it(
    as_manager: APIClient, as_integration: APIClient, made: dict[str, Any], receiver: Receiver
) -> None:
    own = as_integration.post(PATH, {"url": receiver.url()}).json()
    assert names(as_integration.get(PATH), "id") == [own["id"]]
    assert names(as_manager.get(PATH), "id") == [made["id"], own["id"]]
    for address in ("", "deliveries/"):
        assert as_integration.get(f"{PATH}{made['id']}/{address}").status_code == 404
    for act in ("rotate-secret", "test", "replay"):
        assert as_integration.post(f"{PATH}{made['id']}/{act}/", {"after": 0}).status_code in (400, 404)
    assert as_integration.post(f"{PATH}{made['id']}/test/", {}).status_code == 404
    assert as_integration.post(f"{PATH}{made['id']}/rotate-secret/", {}).status_code == 404
    assert as_integration.post(f"{PATH}{made['id']}/replay/", {"after": 0}).status_code == 404


def test_a_manager_with_limits_cannot_turn_the_webhook_of_another_to_himself(made: dict[str, Any]) -> None:
    token, secret = AccessToken.objects.issue("manager of one storeroom", role="manager")
    limit_to({"token": token}, [], [make.StoreroomFactory()])
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    assert client.get(f"{PATH}{made['id']}/").status_code == 404
    assert client.patch(f"{PATH}{made['id']}/", {"url": "https://hooks.example/"}).status_code == 404


def test_a_rotation_signs_with_both_until_the_overlap_ends(
    as_manager: APIClient, made: dict[str, Any], receiver: Receiver
) -> None:
    response = as_manager.post(f"{PATH}{made['id']}/rotate-secret/", {"overlap_hours": 1})
    fresh = response.json()["secret"]
    assert (response.status_code, fresh == made["secret"]) == (200, False)
    happen("item/1")
    deliver(Webhook.objects.get())
    assert [receiver.got[0].verified(one)["version"] for one in (fresh, made["secret"])] == [1, 1]
    Webhook.objects.update(previous_until="2026-01-01T00:00:00Z")
    happen("item/2")
    deliver(Webhook.objects.get())
    assert receiver.got[1].verified(fresh)
    with pytest.raises(Exception, match="No matching signature"):
        receiver.got[1].verified(made["secret"])


def test_a_rotation_without_overlap_ends_the_old_secret(
    as_manager: APIClient, made: dict[str, Any], receiver: Receiver
) -> None:
    path = f"{PATH}{made['id']}/rotate-secret/"
    assert errors(as_manager.post(path, {"overlap_hours": 169})).keys() == {"/overlap_hours"}
    as_manager.post(path, {"overlap_hours": 0})
    happen()
    deliver(Webhook.objects.get())
    with pytest.raises(Exception, match="No matching signature"):
        Verifier(made["secret"]).verify(receiver.got[0].body, receiver.got[0].headers)


def test_a_test_goes_to_this_one_alone(
    as_manager: APIClient, made: dict[str, Any], receiver: Receiver
) -> None:
    other = subscribe(receiver.url("/other"))
    Webhook.objects.filter(pk=made["id"]).update(types=["item.changed"])
    response = as_manager.post(f"{PATH}{made['id']}/test/", {})
    assert (response.status_code, response.json()["type"], response.json()["state"]) == (
        *(202, "webhook.test", "waiting"),
    )
    assert deliver(Webhook.objects.get(pk=made["id"])) == 1
    assert deliver(other) == 0
    assert receiver.got[0].id == response.json()["event"]
    assert as_manager.get("/api/v1/events/").json()["results"] == []
    Webhook.objects.update(state="paused")
    assert as_manager.post(f"{PATH}{made['id']}/test/", {}).status_code == 409


def test_deliveries_are_listed_by_state(
    as_manager: APIClient, made: dict[str, Any], receiver: Receiver
) -> None:
    receiver.script += [answers(500), answers(200), answers(500)]
    happen("item/1")
    happen("item/2")
    deliver(Webhook.objects.get())
    path = f"{PATH}{made['id']}/deliveries/"
    assert names(as_manager.get(path), "state") == ["delivered", "waiting"]
    (waiting,) = as_manager.get(path, {"state": "waiting"}).json()["results"]
    assert (waiting["aggregate"], waiting["attempts"], waiting["last_status"]) == ("item/1", 1, 500)
    assert waiting["last_error"] == "It answered 500."
    assert as_manager.get(path, {"stat": "waiting"}).status_code == 400


def test_one_delivery_is_sent_again_with_its_id(
    as_manager: APIClient, made: dict[str, Any], receiver: Receiver
) -> None:
    happen()
    deliver(Webhook.objects.get())
    path = f"{PATH}{made['id']}/deliveries/{Delivery.objects.get().pk}/replay/"
    found = as_manager.post(path, {})
    assert (found.status_code, found.json()["state"], found.json()["attempts"]) == (200, "waiting", 0)
    deliver(Webhook.objects.get())
    assert [got.id for got in receiver.got] == [found.json()["event"]] * 2
    assert as_manager.post(f"{PATH}{made['id']}/deliveries/999999/replay/", {}).status_code == 404


def test_a_range_is_sent_again_with_what_it_never_got(as_manager: APIClient, receiver: Receiver) -> None:
    for n in range(4):
        happen(f"item/{n}")
    queue()
    made = as_manager.post(PATH, {"url": receiver.url()}).json()
    happen("item/4")
    deliver(Webhook.objects.get())
    answer = as_manager.post(f"{PATH}{made['id']}/replay/", {"after": 2})
    assert (answer.status_code, answer.json()) == (202, {"queued": 3})
    deliver(Webhook.objects.get())
    sent = [got.verified(made["secret"])["sequence"] for got in receiver.got]
    assert sent == [5, 3, 4, 5]


def test_of_a_range_the_dead_alone_can_be_meant(
    as_manager: APIClient, made: dict[str, Any], receiver: Receiver
) -> None:
    for n in range(3):
        happen(f"item/{n}")
    deliver(Webhook.objects.get())
    Delivery.objects.filter(event__sequence=2).update(state="dead")
    path = f"{PATH}{made['id']}/replay/"
    assert as_manager.post(path, {"after": 0, "until": 3, "only_dead": True}).json() == {"queued": 1}
    assert errors(as_manager.post(path, {"until": 3})).keys() == {"/after"}
    assert errors(as_manager.post(path, {"after": 0, "until": 10_001})).keys() == {"/until"}


def test_lists_cost_a_fixed_number_of_queries(
    as_manager: APIClient, receiver: Receiver, django_assert_num_queries: Any
) -> None:
    webhooks = [subscribe(receiver.url(f"/{n}")) for n in range(3)]
    for n in range(10):
        happen(f"item/{n}")
    queue()
    with django_assert_num_queries(2):
        as_manager.get(PATH)
    with django_assert_num_queries(3):
        as_manager.get(f"{PATH}{webhooks[0].pk}/deliveries/")


def test_no_answer_and_no_description_of_it_holds_a_secret(as_manager: APIClient, receiver: Receiver) -> None:
    webhook = subscribe(receiver.url())
    happen()
    deliver(webhook)
    for address in ("", f"{webhook.pk}/", f"{webhook.pk}/deliveries/"):
        text = as_manager.get(f"{PATH}{address}").content.decode()
        assert SECRET not in text
        assert webhook.secret not in text


def test_the_log_of_changes_holds_no_secret(as_manager: APIClient, made: dict[str, Any]) -> None:
    change(as_manager, f"{PATH}{made['id']}/", {"description": "other"})
    as_manager.post(f"{PATH}{made['id']}/rotate-secret/", {})
    webhook = Webhook.objects.get()
    logged = json.dumps(list(Change.objects.values("before", "after", "key")), default=str)
    assert webhook.url in logged
    for secret in (webhook.secret, webhook.previous_secret, made["secret"]):
        assert secret not in logged

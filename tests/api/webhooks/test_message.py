import json
from datetime import UTC, datetime, timedelta

import pytest
from django.utils import timezone
from standardwebhooks import Webhook as Verifier

from api.webhooks import message
from api.webhooks.message import body_of, event_id, headers_of, signature
from api.webhooks.secrets import SecretUnreadable, bytes_of, decrypted, encrypted, new_secret
from tests.api.webhooks.subscribing import SECRET, happen

BODY = '{"test": 2432232314}'


def test_the_signature_of_the_published_example() -> None:
    # The example that the authors of Standard Webhooks publish with their libraries.
    found = signature("msg_p5jXN8AQM9LWM0D4loKWxJek", 1614265330, BODY.encode(), SECRET)
    assert found == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_the_general_library_accepts_it_and_nothing_else() -> None:
    at, secret = timezone.now(), new_secret()
    headers = headers_of("evt_1", BODY.encode(), secrets=[secret], at=at)
    assert Verifier(secret).verify(BODY, headers) == {"test": 2432232314}
    for wrong in ({"webhook-id": "evt_2"}, {"webhook-timestamp": str(int(at.timestamp()) + 1)}):
        with pytest.raises(Exception, match="No matching signature"):
            Verifier(secret).verify(BODY, headers | wrong)
    with pytest.raises(Exception, match="No matching signature"):
        Verifier(new_secret()).verify(BODY, headers)


def test_both_secrets_sign_while_one_takes_over_from_the_other() -> None:
    secrets = [new_secret(), new_secret()]
    headers = headers_of("evt_1", BODY.encode(), secrets=secrets, at=timezone.now())
    assert headers["webhook-signature"].count(" ") == 1
    for secret in secrets:
        assert Verifier(secret).verify(BODY, headers)


def test_a_secret_is_long_enough_and_never_the_same() -> None:
    found = new_secret()
    assert found.startswith("whsec_")
    assert 24 <= len(bytes_of(found)) <= 64
    assert found != new_secret()


def test_a_secret_is_kept_closed_under_the_key_of_the_service(settings: pytest.FixtureRequest) -> None:
    closed = encrypted(SECRET)
    assert SECRET[6:] not in closed
    assert decrypted(closed) == SECRET
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "another" * 10, [settings.SECRET_KEY]  # type: ignore[attr-defined]
    assert decrypted(closed) == SECRET
    settings.SECRET_KEY_FALLBACKS = []  # type: ignore[attr-defined]
    with pytest.raises(SecretUnreadable, match="rotate"):
        decrypted(closed)


@pytest.mark.django_db
def test_the_body_says_what_happened_to_what() -> None:
    event = happen(data={"ä": 1.5, "a": "Mälzerei"}, storeroom="OM-MAIN")
    event.sequence = 7
    found = json.loads(body_of(event))
    assert {found["type"], found["aggregate"], found["id"]} == {
        "stock.moved",
        event.aggregate,
        event_id(event),
    }
    assert (found["timestamp"], found["version"], found["sequence"]) == ("2026-03-02T12:00:00Z", 1, 7)
    assert (found["storeroom"], found["plant"], found["data"]["a"]) == ("OM-MAIN", None, "Mälzerei")


@pytest.mark.django_db
def test_the_body_is_the_same_bytes_however_the_database_keeps_it() -> None:
    event = happen(data={"b": 1, "a": {"d": 2.0, "c": None}})
    first = body_of(event)
    event.refresh_from_db()
    assert body_of(event) == first


@pytest.mark.django_db
def test_an_event_that_takes_the_number_of_a_lost_one_has_another_id() -> None:
    event = happen()
    other = message.Event(pk=event.pk, recorded_at=event.recorded_at + timedelta(microseconds=1))
    assert event_id(other) != event_id(event)
    assert "." not in event_id(event)
    assert event_id(message.Event(pk=1, recorded_at=datetime(2026, 1, 1, tzinfo=UTC)))

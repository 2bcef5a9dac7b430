"""Attacks 9 to 16: tokens, passwords, sessions, other origins."""

import logging
from datetime import timedelta
from typing import Any
from unittest.mock import Mock

import pytest
from django.contrib.auth.hashers import MD5PasswordHasher
from django.contrib.auth.models import Group, User
from django.core import mail
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from api.edge import logins
from api.models import AccessToken, LoginAttempt
from api.screens.account.passwords import link_to_set_password
from tests import factories as make
from tests.attacks.sites import API, client_of

pytestmark = pytest.mark.django_db
PASSWORD = "the kiln is warm"


@pytest.fixture(autouse=True)
def quick_hashes(settings: Any) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def jonas(db: None) -> User:
    return User.objects.create_user("jonas", password=PASSWORD)


def log_in(name: str, password: str, client: Client | None = None, address: str = "10.0.0.1") -> Any:
    body = {"username": name, "password": password}
    return (client or Client()).post("/login/", body, REMOTE_ADDR=address)


@pytest.mark.parametrize("how", ["unknown", "revoked", "expired", "altered"])
def test_09_a_token_that_is_none_is_told_how_to_come_in(how: str) -> None:
    token, secret = AccessToken.objects.issue("x", role="viewer", days=1)
    past = timezone.now() - timedelta(seconds=1)
    if how == "revoked":
        AccessToken.objects.update(revoked_at=past)
    if how == "expired":
        AccessToken.objects.update(expires_at=past)
    given = {"unknown": "spares_" + "x" * 43, "altered": secret[:-1]}.get(how, secret)
    response = client_of(token, given).get(f"{API}items/")
    assert response.status_code == 401
    assert response["WWW-Authenticate"].startswith("Bearer")
    assert response["Content-Type"] == "application/problem+json"


def test_09_the_hash_that_is_kept_opens_nothing() -> None:
    token, _ = AccessToken.objects.issue("x", role="viewer")
    assert client_of(token, token.digest).get(f"{API}items/").status_code == 401


@pytest.mark.parametrize("name", ["token", "access_token", "authorization", "api_key"])
def test_10_a_token_in_the_address_opens_nothing_and_is_not_logged(
    name: str, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    _, secret = AccessToken.objects.issue("x", role="viewer")
    with caplog.at_level(logging.DEBUG):
        response = APIClient().get(f"{API}items/?{name}={secret}")
        logging.getLogger("django.server").warning('"GET /api/v1/items/?%s=%s HTTP/1.1" 401', name, secret)
    assert response.status_code == 401
    assert secret not in response.content.decode()
    assert secret not in capfd.readouterr().err


def test_a_scope_narrows_what_a_token_does() -> None:
    client = client_of(*AccessToken.objects.issue("x", role="manager", scopes=["movements:write"]))
    assert client.get(f"{API}movements/").status_code == 200
    assert client.get(f"{API}items/").status_code == 403
    assert client.post(f"{API}items/", {}).status_code == 403
    assert client.post(f"{API}movements/", {}, HTTP_IDEMPOTENCY_KEY="k").status_code == 400


def test_a_token_that_reads_everything_writes_nothing() -> None:
    client = client_of(*AccessToken.objects.issue("x", role="manager", scopes=["*:read"]))
    assert client.get(f"{API}items/").status_code == 200
    assert client.post(f"{API}items/", {}).status_code == 403


def test_a_users_token_never_does_more_than_its_user(jonas: User) -> None:
    client = client_of(*AccessToken.objects.issue("x", role="manager", user=jonas))
    assert client.post(f"{API}items/", {}).status_code == 403
    jonas.groups.add(Group.objects.get_or_create(name="manager")[0])
    assert client.post(f"{API}items/", {}).status_code == 400


def test_use_is_noted_once_a_minute(django_assert_num_queries: Any) -> None:
    token, secret = AccessToken.objects.issue("x", role="viewer")
    client = client_of(token, secret)
    client.get(f"{API}chains/08B/")
    token.refresh_from_db()
    first = token.last_used_at
    client.get(f"{API}chains/08B/")
    token.refresh_from_db()
    assert token.last_used_at == first is not None
    AccessToken.objects.update(last_used_at=timezone.now() - timedelta(seconds=61))
    client.get(f"{API}chains/08B/")
    token.refresh_from_db()
    assert token.last_used_at > first


def test_the_command_makes_a_token_of_limited_reach(capsys: pytest.CaptureFixture[str]) -> None:
    make.PlantFactory()
    call_command("api_token", "kiln", role="storeroom", plant=["WEIR"], scope=["stock:read"], days=7)
    token = AccessToken.objects.get()
    assert capsys.readouterr().out.split()[-1].startswith("spares_")
    assert [plant.code for plant in token.reach.plants.all()] == ["WEIR"]
    assert [room.code for room in token.reach.storerooms.all()] == ["MAIN"]
    assert token.scopes == ["stock:read"]


@pytest.mark.parametrize(
    "wrong", [{"plant": ["NONE"]}, {"storeroom": ["NONE"]}, {"scope": ["all"]}, {"user": "x"}]
)
def test_the_command_refuses_what_is_not_there(wrong: dict[str, Any]) -> None:
    with pytest.raises(CommandError):
        call_command("api_token", "kiln", role="viewer", **wrong)
    assert not AccessToken.objects.exists()


def test_11_twenty_wrong_passwords_lock_the_right_one_out(jonas: User) -> None:
    answers = [log_in("jonas", f"wrong {n}") for n in range(20)]
    locked = log_in("jonas", PASSWORD)
    assert {answer.status_code for answer in answers} == {200, 429}
    assert locked.status_code == 429
    assert 600 < int(locked["Retry-After"]) <= 900
    assert "sessionid" not in locked.cookies


def test_11_another_user_and_another_place_are_not_shut_out(jonas: User) -> None:
    User.objects.create_user("marta", password=PASSWORD)
    for n in range(20):
        log_in("jonas", f"wrong {n}")
    assert log_in("marta", PASSWORD).status_code == 302
    assert log_in("jonas", PASSWORD, address="10.0.0.2").status_code == 302


def test_11_waiting_grows_and_ends(jonas: User, monkeypatch: pytest.MonkeyPatch) -> None:
    now = timezone.now()
    monkeypatch.setattr("api.edge.logins.timezone.now", lambda: now)
    for _ in range(3):
        assert log_in("jonas", "wrong").status_code == 200
    first = int(log_in("jonas", "wrong")["Retry-After"])
    second = int(log_in("jonas", "wrong")["Retry-After"])
    assert 0 < first < second
    now += timedelta(seconds=60)
    assert log_in("jonas", PASSWORD).status_code == 302
    assert log_in("jonas", "wrong").status_code == 200


def test_11_the_lock_ends_after_a_quarter_of_an_hour(jonas: User, monkeypatch: pytest.MonkeyPatch) -> None:
    now = timezone.now()
    monkeypatch.setattr("api.edge.logins.timezone.now", lambda: now)
    for _ in range(30):
        log_in("jonas", "wrong")
    now += logins.WINDOW + timedelta(seconds=1)
    assert log_in("jonas", PASSWORD).status_code == 302


def test_11_one_name_tried_from_everywhere_is_shut(jonas: User) -> None:
    LoginAttempt.objects.bulk_create(
        LoginAttempt(username="jonas", address=f"10.1.0.{n}") for n in range(logins.NAME_LOCKED_AT)
    )
    assert log_in("jonas", PASSWORD, address="10.9.9.9").status_code == 429


def test_11_one_address_that_tries_every_name_is_shut(jonas: User) -> None:
    LoginAttempt.objects.bulk_create(
        LoginAttempt(username=f"n{n}", address="10.0.0.1") for n in range(logins.ADDRESS_LOCKED_AT)
    )
    assert log_in("jonas", PASSWORD).status_code == 429
    assert log_in("jonas", PASSWORD, address="10.0.0.2").status_code == 302


def test_11_who_has_logged_in_from_here_before_is_not_shut_out_by_others(jonas: User) -> None:
    assert log_in("jonas", PASSWORD).status_code == 302
    LoginAttempt.objects.bulk_create(
        [LoginAttempt(username="jonas", address=f"10.1.0.{n}") for n in range(logins.NAME_LOCKED_AT)]
        + [LoginAttempt(username=f"n{n}", address="10.0.0.1") for n in range(logins.ADDRESS_LOCKED_AT)]
    )
    assert log_in("jonas", PASSWORD).status_code == 302
    assert log_in("jonas", PASSWORD, address="10.0.0.2").status_code == 429


def guess(name: str, times: int = 20) -> None:
    for n in range(times):
        log_in(name, f"wrong {n}")


def own_device(name: str) -> Client:
    """A browser on which somebody has logged in, and out again."""
    own = Client()
    assert log_in(name, PASSWORD, own).status_code == 302
    del own.cookies["sessionid"]
    return own


def test_11_who_guesses_at_the_address_of_all_shuts_nobody_out_of_their_device(jonas: User) -> None:
    own, too = own_device("jonas"), own_device("jonas")
    guess("jonas")
    assert log_in("jonas", PASSWORD).status_code == 429
    assert log_in("jonas", PASSWORD, own).status_code == 302
    assert log_in("jonas", PASSWORD, too, address="10.0.0.2").status_code == 302


def test_11_a_known_device_opens_the_way_for_its_own_users_alone(jonas: User) -> None:
    User.objects.create_user("marta", password=PASSWORD)
    own = own_device("marta")
    guess("jonas")
    assert log_in("jonas", PASSWORD, own).status_code == 429


def test_11_on_a_known_device_wrong_passwords_wait_too(jonas: User) -> None:
    own = own_device("jonas")
    for n in range(20):
        log_in("jonas", f"wrong {n}", own)
    assert log_in("jonas", PASSWORD, own).status_code == 429
    assert log_in("jonas", PASSWORD).status_code == 302


def test_11_a_cookie_that_somebody_planted_is_no_known_device(jonas: User) -> None:
    own = Client()
    own.cookies["device"] = "planted"
    log_in("jonas", PASSWORD, own)
    assert own.cookies["device"].value != "planted"
    assert own.cookies["device"]["httponly"]
    guess("jonas")
    thief = Client()
    thief.cookies["device"] = "planted"
    assert log_in("jonas", PASSWORD, thief).status_code == 429


def test_11_what_is_kept_of_a_device_opens_nothing(jonas: User) -> None:
    own_device("jonas")
    guess("jonas")
    thief = Client()
    thief.cookies["device"] = LoginAttempt.objects.get(address__startswith="device ").address
    assert log_in("jonas", PASSWORD, thief).status_code == 429


def test_11_a_link_that_sets_a_password_lets_its_user_in(jonas: User) -> None:
    guess("jonas")
    own, new = Client(), "gerste-und-malz-2"
    form = own.get(link_to_set_password(jonas).rpartition(" ")[2], follow=True).request["PATH_INFO"]
    assert own.post(form, {"new_password1": new, "new_password2": new}).status_code == 302
    assert log_in("jonas", new).status_code == 429
    assert log_in("jonas", new, own).status_code == 302


def test_11_an_administrator_ends_every_lock(jonas: User, capsys: pytest.CaptureFixture[str]) -> None:
    guess("jonas")
    call_command("unlock_logins")
    assert capsys.readouterr().out == "Failed logins forgotten: 10, of names: 1, from addresses: 1.\n"
    assert log_in("jonas", PASSWORD).status_code == 302


def ask_for_mail(email: str, address: str = "10.0.0.1") -> Any:
    return Client().post("/account/reset/", {"email": email}, REMOTE_ADDR=address)


@pytest.mark.parametrize("email", ["jonas@malt.example", "nobody@malt.example"])
def test_11_mails_to_set_a_password_are_counted_by_account(jonas: User, email: str, settings: Any) -> None:
    settings.EMAIL_HOST = "mail.example"
    User.objects.filter(pk=jonas.pk).update(email="jonas@malt.example")
    for n in range(logins.MAILS_OF_ACCOUNT):
        assert ask_for_mail(email, address=f"10.0.2.{n}").status_code == 302
    late = ask_for_mail(email.title(), address="10.0.3.1")
    assert (late.status_code, 0 < int(late["Retry-After"]) <= 3600) == (429, True)
    assert len(mail.outbox) == (logins.MAILS_OF_ACCOUNT if email.startswith("jonas") else 0)
    assert log_in("jonas", PASSWORD).status_code == 302
    LoginAttempt.objects.update(at=timezone.now() - logins.MAILS_WITHIN)
    assert ask_for_mail(email).status_code == 302


def test_11_mails_to_set_a_password_are_counted_by_address(jonas: User, settings: Any) -> None:
    settings.EMAIL_HOST = "mail.example"
    for n in range(logins.MAILS_OF_ADDRESS):
        assert ask_for_mail(f"n{n}@malt.example").status_code == 302
    assert ask_for_mail("jonas@malt.example").status_code == 429
    assert ask_for_mail("jonas@malt.example", address="10.0.0.2").status_code == 302
    assert log_in("jonas", PASSWORD).status_code == 302


def test_11_a_name_in_capitals_or_wide_letters_is_the_same_name(jonas: User) -> None:
    for name in ("Jonas", "JONAS", "ｊｏｎａｓ", "jonas") * 4:
        log_in(name, "wrong")
    assert log_in("jonas", PASSWORD).status_code == 429


def test_11_the_admin_counts_the_same_tries(jonas: User) -> None:
    User.objects.filter(pk=jonas.pk).update(is_staff=True, is_superuser=True)
    for n in range(12):
        Client().post(
            "/admin/login/", {"username": "jonas", "password": f"wrong {n}"}, REMOTE_ADDR="10.0.0.1"
        )
    shut = Client().post("/admin/login/", {"username": "jonas", "password": PASSWORD}, REMOTE_ADDR="10.0.0.1")
    assert (shut.status_code, "Retry-After" in shut) == (429, True)
    assert log_in("jonas", PASSWORD).status_code == 429


def test_11_the_address_is_not_what_the_caller_says(jonas: User) -> None:
    for n in range(12):
        Client().post(
            "/login/",
            {"username": "jonas", "password": "wrong"},
            REMOTE_ADDR="10.0.0.1",
            HTTP_X_FORWARDED_FOR=f"10.7.0.{n}",
        )
    assert log_in("jonas", PASSWORD).status_code == 429


def test_11_a_lock_is_logged_in_one_line(jonas: User, caplog: pytest.LogCaptureFixture) -> None:
    for _ in range(12):
        log_in("jonas\nWARNING root: forged", "wrong")
    said = [record.getMessage() for record in caplog.records if record.name == "api.edge.logins"]
    assert said
    assert not any("\n" in line for line in said)


def test_old_attempts_are_deleted() -> None:
    LoginAttempt.objects.create(username="x", at=timezone.now() - timedelta(days=91))
    kept = LoginAttempt.objects.create(username="x")
    call_command("purge")
    assert list(LoginAttempt.objects.all()) == [kept]


def text_of(answer: Any) -> str:
    return str(answer.content.decode().replace("jonas", "NAME").replace("nobody", "NAME").split("csrf")[0])


def test_12_unknown_and_known_names_are_answered_alike(jonas: User) -> None:
    User.objects.create_user("left", password=PASSWORD, is_active=False)
    known, unknown = log_in("jonas", "wrong"), log_in("nobody", "wrong")
    assert known.status_code == unknown.status_code == log_in("left", PASSWORD).status_code == 200
    assert text_of(known) == text_of(unknown)
    locked = [[log_in(name, "wrong").status_code for _ in range(12)] for name in ("jonas", "nobody")]
    assert locked[0] == locked[1]


@pytest.mark.no_rows
@pytest.mark.parametrize("name", ["jonas", "nobody"])
def test_12_an_unknown_name_costs_the_hash_that_a_known_one_does(
    jonas: User, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    hashes = Mock(side_effect=MD5PasswordHasher().encode)
    monkeypatch.setattr(MD5PasswordHasher, "encode", hashes)
    log_in(name, "wrong")
    assert hashes.call_count == 1


def test_13_a_session_ends_with_logout(jonas: User) -> None:
    client = Client()
    log_in("jonas", PASSWORD, client)
    kept = client.cookies["sessionid"].value
    assert client.get(f"{API}items/").status_code == 200
    client.post("/logout/")
    client.cookies["sessionid"] = kept
    assert client.get(f"{API}items/").status_code == 401


@pytest.mark.parametrize("how", ["password", "disabled", "deleted"])
def test_13_a_session_ends_when_its_user_changes(how: str, jonas: User) -> None:
    client = Client()
    log_in("jonas", PASSWORD, client)
    if how == "password":
        jonas.set_password("another warm kiln")
        jonas.save()
    elif how == "disabled":
        User.objects.update(is_active=False)
    else:
        jonas.delete()
    assert client.get(f"{API}items/").status_code == 401
    assert client.get("/").status_code == 302


def test_14_a_session_id_that_was_planted_is_not_taken_over(jonas: User) -> None:
    client = Client()
    client.cookies["sessionid"] = "planted0planted0planted0planted0"
    log_in("jonas", PASSWORD, client)
    assert client.cookies["sessionid"].value != "planted0planted0planted0planted0"


def test_14_a_session_that_was_begun_gets_another_id_at_login(jonas: User) -> None:
    client = Client()
    session = client.session
    session["x"] = 1
    session.save()
    client.cookies["sessionid"] = session.session_key
    log_in("jonas", PASSWORD, client)
    assert client.cookies["sessionid"].value != session.session_key


@pytest.mark.parametrize("path", [f"{API}items/", "/logout/", "/login/", "/planning/runs/"])
def test_15_a_post_of_a_session_without_its_csrf_token_is_refused(path: str, jonas: User) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(jonas)
    assert client.post(path, {}, content_type="application/json").status_code == 403


def test_15_a_post_from_a_foreign_page_is_refused_with_the_right_token(jonas: User) -> None:
    jonas.groups.add(Group.objects.get_or_create(name="manager")[0])
    client = Client(enforce_csrf_checks=True)
    client.force_login(jonas)
    client.get("/login/")
    client.get("/")
    token = client.cookies["csrftoken"].value
    own = client.post(f"{API}items/", {}, content_type="application/json", HTTP_X_CSRFTOKEN=token)
    foreign = client.post(
        f"{API}items/",
        {},
        content_type="application/json",
        HTTP_X_CSRFTOKEN=token,
        HTTP_ORIGIN="https://elsewhere.example",
    )
    assert (own.status_code, foreign.status_code) == (400, 403)


@pytest.mark.parametrize("method", ["get", "options"])
@pytest.mark.parametrize("path", [f"{API}items/", "/", "/login/", "/healthz", f"{API}schema/"])
def test_16_no_other_origin_is_let_in(method: str, path: str, jonas: User) -> None:
    client = Client()
    client.force_login(jonas)
    answer = getattr(client, method)(
        path, HTTP_ORIGIN="https://elsewhere.example", HTTP_ACCESS_CONTROL_REQUEST_METHOD="POST"
    )
    assert not [name for name in answer.headers if name.lower().startswith("access-control")]


def test_16_a_mail_from_the_longest_address_is_counted() -> None:
    longest = "fe80::1%" + "a" * (logins.LONGEST_ADDRESS - 8)
    logins.count_mail("marta@example.test", longest)
    for attempt in LoginAttempt.objects.all():
        attempt.full_clean()

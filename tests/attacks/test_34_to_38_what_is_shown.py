"""Attacks 34 to 38: hosts, faults, headers, passwords, the log."""

import logging
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.hashers import identify_hasher
from django.contrib.auth.models import User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client
from rest_framework.test import APIClient

from api.edge.log_lines import JsonLines, TextLines
from tests import factories as make
from tests.conftest import ClientFor
from tests.programs import HOUSE, completed

pytestmark = pytest.mark.django_db
ITEMS = "/api/v1/items/"
PAGES = ["/", "/login/", "/admin/", "/admin/login/", "/api/v1/docs/", "/none/", "/planning/", "/items/NONE/"]
ANSWERS = [
    ITEMS,
    "/api/v1/none/",
    "/healthz",
    "/api/v1/schema/",
    f"{ITEMS}NONE/",
    "/api/v1/positions/X/substitutes/",
]


@pytest.fixture
def chief(db: None) -> Client:
    client = Client()
    client.force_login(make.AdminFactory())
    return client


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "localhost.elsewhere.example", "localhost@x", "a b", ""]
)
@pytest.mark.parametrize("path", [ITEMS, "/login/", "/healthz"])
def test_34_another_host_is_refused(host: str, path: str, as_viewer: APIClient, settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["localhost"]
    response = as_viewer.get(path, HTTP_HOST=host)
    assert response.status_code == 400 or path == "/healthz"
    assert "elsewhere" not in response.content.decode()


def test_34_what_a_proxy_might_say_is_not_believed(as_viewer: APIClient) -> None:
    for n in range(2):
        make.ItemFactory(stock_number=f"SPR-{n}")
    response = as_viewer.get(
        f"{ITEMS}?limit=1",
        HTTP_X_FORWARDED_HOST="elsewhere.example",
        HTTP_X_FORWARDED_PROTO="https",
        HTTP_X_FORWARDED_PORT="81",
        HTTP_X_FORWARDED_PREFIX="/x",
        HTTP_FORWARDED="host=elsewhere.example;proto=https",
        HTTP_X_ORIGINAL_URL="/admin/",
        HTTP_X_REWRITE_URL="/admin/",
    )
    assert response.json()["next"].startswith("http://testserver/api/v1/items/")
    assert "elsewhere" not in response["Link"]


SECRETS = ("Traceback", "secret sauce", "boom_view", "SECRET_KEY", "site-packages", str(HOUSE))


@pytest.mark.parametrize("debug_header", [{}, {"HTTP_X_DEBUG": "1"}])
def test_35_a_fault_tells_its_number_alone(
    debug_header: dict[str, str], client_for: ClientFor, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: object, **kwargs: object) -> None:
        raise RuntimeError("secret sauce")

    monkeypatch.setattr("api.resources.items.ItemViewSet.get_queryset", fail)
    client = client_for("viewer")
    client.raise_request_exception = False
    response = client.get(f"{ITEMS}X/", **debug_header)
    assert (response.status_code, response["Content-Type"]) == (500, "application/problem+json")
    body = response.json()
    assert set(body) == {"type", "title", "status", "detail", "instance", "request_id"}
    assert body["request_id"] == response["X-Request-Id"]
    assert not [word for word in SECRETS if word in response.content.decode() + str(response.headers)]


def test_35_a_fault_of_a_page_tells_no_more(chief: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*args: object, **kwargs: object) -> None:
        raise RuntimeError("secret sauce")

    monkeypatch.setattr("api.screens.home.search", fail)
    chief.raise_request_exception = False
    response = chief.get("/")
    assert response.status_code == 500
    assert response["X-Request-Id"] in response.content.decode()
    assert not [word for word in SECRETS if word in response.content.decode()]


@pytest.mark.parametrize("path", [*PAGES, *ANSWERS])
def test_36_every_answer_carries_the_headers(path: str, chief: Client) -> None:
    headers = chief.get(path).headers
    policy = headers["Content-Security-Policy"]
    for words in ("default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"):
        assert words in policy
    assert "unsafe" not in policy
    assert "*" not in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "Server" not in headers
    assert "X-Powered-By" not in headers


@pytest.mark.parametrize("path", [*PAGES, *ANSWERS])
def test_36_what_is_answered_to_somebody_is_kept_by_nobody_else(path: str, chief: Client) -> None:
    headers = chief.get(path).headers
    kept = headers["Cache-Control"]
    assert "private" in kept
    assert "no-store" in kept or "no-cache" in kept
    assert {"Cookie", "Authorization"} <= {name.strip() for name in headers["Vary"].split(",")}


SECRET = "".join(chr(97 + n * 7 % 26) for n in range(60))
PRODUCTION = {"PRODUCTION": "true", "SECRET_KEY": SECRET, "ALLOWED_HOSTS": "spares.example"}
ASK = """
import django; django.setup()
from django.test import Client
from django.contrib.auth.models import User
User.objects.create_user("jonas", password="the kiln is warm")
client = Client(headers={"host": "spares.example"})
plain = client.get("/login/")
client.get("/login/", secure=True)
page = client.post("/login/", {"username": "jonas", "password": "the kiln is warm"}, secure=True)
print(plain.status_code, plain["Location"])
print(page["Strict-Transport-Security"])
for name, cookie in sorted(client.cookies.items()):
    print(name, bool(cookie["secure"]), bool(cookie["httponly"]), cookie["samesite"], cookie["path"], repr(cookie["domain"]))
"""


def in_production(*arguments: str, tmp: Any) -> subprocess.CompletedProcess[str]:
    surroundings = {
        "PATH": os.environ["PATH"],
        "DJANGO_SETTINGS_MODULE": "api.settings",
        "DATABASE_URL": f"sqlite:///{tmp}/p.sqlite3",
        **PRODUCTION,
    }
    return completed(arguments, surroundings, timeout=120)


def test_36_in_production_cookies_are_for_this_host_over_tls_alone(
    migrated_file: Path, tmp_path: Path
) -> None:
    shutil.copy(migrated_file, tmp_path / "p.sqlite3")
    ran = in_production("-c", ASK, tmp=tmp_path)
    said = ran.stdout.splitlines()
    assert said[0] == "301 https://spares.example/login/", ran.stderr
    assert said[1].startswith("max-age=3600")
    assert said[2:] == [
        "__Host-csrftoken True True Lax / ''",
        "__Host-device True True Lax / ''",
        "__Host-sessionid True True Lax / ''",
    ]


def test_36_the_check_for_production_has_nothing_to_say(tmp_path: Any) -> None:
    ran = in_production("manage.py", "check", "--deploy", "--fail-level", "WARNING", tmp=tmp_path)
    assert ran.returncode == 0, ran.stderr
    assert "no issues" in ran.stdout


def test_37_passwords_are_kept_as_argon2id() -> None:
    user = User.objects.create_user("jonas", password="the kiln is warm")
    assert identify_hasher(user.password).algorithm == "argon2"
    assert user.password.startswith("argon2$argon2id$")


@pytest.mark.parametrize("password", ["short7!", "password", "12345678", "qwertyuiop", "jonaskeller"])
def test_37_bad_passwords_are_refused(password: str) -> None:
    with pytest.raises(ValidationError):
        validate_password(password, User(username="jonaskeller"))


@pytest.mark.no_rows
@pytest.mark.parametrize("password", ["the kiln is warm", "gerste-malz", "x9" * 64, "пивоварня🍺"])
def test_37_long_plain_passwords_are_taken(password: str) -> None:
    validate_password(password, User(username="jonas"))
    user = User.objects.create_user("jonas", password=password)
    assert user.check_password(password)
    assert not user.check_password(password[:-1])


def record(message: str, *arguments: object) -> logging.LogRecord:
    return logging.LogRecord("x", logging.WARNING, "f", 1, message, arguments, None)


FORGED = ["a\nERROR root: forged", "a\r\nb", "a\x1b[2Jb", "a\u2028b", "a\x85b", "a\u202eb", "a\x00b"]


@pytest.mark.parametrize("text", FORGED)
@pytest.mark.parametrize("lines", [TextLines("{levelname} {message}", style="{"), JsonLines()])
def test_38_no_words_of_a_caller_make_a_line_of_their_own(text: str, lines: logging.Formatter) -> None:
    line = lines.format(record("Refused %s", text))
    assert len(line.splitlines()) == 1
    assert line.isprintable()


def test_38_the_lines_of_an_exception_are_set_in() -> None:
    try:
        raise ValueError("a\n2026-01-01 ERROR root: forged")
    except ValueError:
        one = logging.LogRecord("x", logging.ERROR, "f", 1, "failed", (), sys.exc_info())
    lines = TextLines("{message}", style="{").format(one).splitlines()
    assert len(lines) > 2
    assert all(line.startswith("  | ") for line in lines[1:])


def test_10_no_line_shows_a_token() -> None:
    secret = "spares_" + "Ab9-_" * 8
    for lines in (TextLines("{message}", style="{"), JsonLines()):
        assert secret not in lines.format(record('"GET /api/v1/items/?token=%s"', secret))


@pytest.mark.parametrize("given", ["a\nb", "x" * 65, "../x", "<b>", "a b", ""])
def test_38_a_request_id_of_the_caller_is_taken_only_where_it_is_harmless(
    given: str, as_viewer: APIClient
) -> None:
    response = as_viewer.get(ITEMS, HTTP_X_REQUEST_ID=given)
    assert response["X-Request-Id"] != given

"""Single sign-on against a provider of our own over real HTTP (OpenID Connect Core 1.0, authorization code flow)."""

import base64
import json
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

import jwt
import pytest
from cryptography.hazmat.primitives.asymmetric import rsa
from django.contrib.auth.models import User
from django.test import Client

from api.models import Change

pytestmark = pytest.mark.django_db
CLIENT, SECRET = "spares", "a secret of the provider"


class Provider(BaseHTTPRequestHandler):
    """Tells of `claims` to whoever brings the code that it gave."""

    claims: dict[str, Any]
    nonce: str
    key: rsa.RSAPrivateKey

    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        words = {"iss": "provider", "aud": CLIENT, "nonce": type(self).nonce, **type(self).claims}
        token = jwt.encode(words, type(self).key, algorithm="RS256", headers={"kid": "one"})
        self.answer({"access_token": "opaque", "id_token": token, "token_type": "Bearer"})

    def do_GET(self) -> None:
        if self.path == "/user":
            self.answer(type(self).claims)
            return
        numbers = type(self).key.public_key().public_numbers()
        parts = {name: base64url(getattr(numbers, name)) for name in ("n", "e")}
        self.answer({"keys": [{"kty": "RSA", "alg": "RS256", "kid": "one", "use": "sig", **parts}]})

    def answer(self, body: dict[str, Any]) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "application/json")
        self.end_headers()
        self.wfile.write(json.dumps(body).encode())

    def log_message(self, *args: Any) -> None:
        pass


def base64url(number: int) -> str:
    return base64.urlsafe_b64encode(number.to_bytes((number.bit_length() + 7) // 8)).rstrip(b"=").decode()


@pytest.fixture
def provider(settings: Any) -> Iterator[type[Provider]]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), Provider)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    address = f"http://127.0.0.1:{server.server_port}"
    Provider.key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    settings.ROOT_URLCONF = "tests.api.edge.sign_on_urls"
    settings.AUTHENTICATION_BACKENDS = [
        *settings.AUTHENTICATION_BACKENDS,
        "api.edge.single_sign_on.CompanyBackend",
    ]
    settings.OIDC_RP_CLIENT_ID, settings.OIDC_RP_CLIENT_SECRET = CLIENT, SECRET
    settings.OIDC_OP_AUTHORIZATION_ENDPOINT = f"{address}/authorize"
    settings.OIDC_OP_TOKEN_ENDPOINT = f"{address}/token"
    settings.OIDC_OP_USER_ENDPOINT = f"{address}/user"
    settings.OIDC_OP_JWKS_ENDPOINT = f"{address}/keys"
    settings.OIDC_ROLES_CLAIM = "groups"
    yield Provider
    server.shutdown()


def log_in(client: Client, provider: type[Provider], **claims: Any) -> Any:
    """Away to the provider, and back with its code."""
    provider.claims = {"sub": "1", **claims}
    away = client.get("/oidc/authenticate/")
    asked = parse_qs(urlsplit(away["Location"]).query)
    provider.nonce = asked["nonce"][0]
    return client.get("/oidc/callback/", {"code": "c", "state": asked["state"][0]})


def test_who_the_provider_vouches_for_is_logged_in_with_the_roles_it_names(
    client: Client, provider: type[Provider]
) -> None:
    assert "/oidc/authenticate/" in client.get("/login/").content.decode()
    log_in(client, provider, preferred_username="jonas", groups=["storeroom", "football"])
    assert client.get("/account/").status_code == 200
    user = User.objects.get(username="jonas")
    assert [group.name for group in user.groups.all()] == ["storeroom"]
    assert Change.objects.filter(record="auth.user", by_name="single sign-on").count() == 2
    log_in(Client(), provider, preferred_username="jonas", groups=["viewer"])
    assert [group.name for group in user.groups.all()] == ["viewer"]


@pytest.mark.parametrize("kind", ["administrator", "without a name", "another's answer"])
def test_who_is_not_vouched_for_is_not_let_in(kind: str, client: Client, provider: type[Provider]) -> None:
    User.objects.create_superuser("root", password="a long pass phrase")
    if kind == "another's answer":
        client.get("/oidc/callback/", {"code": "c", "state": "made up"})
    else:
        log_in(client, provider, **({"preferred_username": "root"} if kind == "administrator" else {}))
    assert client.get("/account/").status_code == 302


def test_a_header_is_believed_from_a_trusted_proxy_alone(settings: Any) -> None:
    settings.TRUSTED_PROXIES, settings.TRUSTED_USER_HEADER = ["10.20.0.1"], "X-User"
    settings.TRUSTED_ROLES_HEADER = "X-Roles"
    place = settings.MIDDLEWARE.index("django.contrib.auth.middleware.AuthenticationMiddleware") + 1
    settings.MIDDLEWARE = [
        *settings.MIDDLEWARE[:place],
        "api.edge.single_sign_on.TrustedUserMiddleware",
        *settings.MIDDLEWARE[place:],
    ]
    User.objects.create_superuser("root", password="a long pass phrase")
    said = {"X-User": "marta", "X-Roles": "storeroom, manager"}
    assert Client(REMOTE_ADDR="203.0.113.5").get("/account/", headers=said).status_code == 302
    inside = Client(REMOTE_ADDR="10.20.0.1")
    assert inside.get("/account/", headers=said).status_code == 200
    assert sorted(User.objects.get(username="marta").groups.values_list("name", flat=True)) == [
        "manager",
        "storeroom",
    ]
    assert Client(REMOTE_ADDR="10.20.0.1").get("/account/", headers={"X-User": "root"}).status_code == 302

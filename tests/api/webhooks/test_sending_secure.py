"""Over TLS, to a receiver of the plant with an authority of its own."""

import ssl
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from django.utils import timezone

from api.webhooks import sending
from api.webhooks.sending import DeliveryAnswer, send
from tests.api.webhooks.receiver import Receiver, receiving

HOST = "receiver.plant.example"


def certificate(folder: Path) -> tuple[Path, Path]:
    key, now = ec.generate_private_key(ec.SECP256R1()), timezone.now()
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, HOST)])
    built = (
        x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(HOST)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    form, plain = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    (folder / "key.pem").write_bytes(key.private_bytes(serialization.Encoding.PEM, form, plain))
    (folder / "cert.pem").write_bytes(built.public_bytes(serialization.Encoding.PEM))
    return folder / "cert.pem", folder / "key.pem"


@pytest.fixture
def secure(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Receiver]:
    cert, key = certificate(tmp_path)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(cert, key)
    look_up = sending.socket.getaddrinfo
    monkeypatch.setattr(
        sending.socket, "getaddrinfo", lambda host, *more, **kw: look_up("127.0.0.1", *more, **kw)
    )
    settings.WEBHOOK_CA_FILE = str(cert)
    settings.WEBHOOK_ALLOWED_HOSTS = ["127.0.0.1"]
    with receiving(ssl_context=context) as found:
        settings.WEBHOOK_PORTS = [found.port]
        yield found


def test_the_certificate_of_the_named_host_is_checked(secure: Receiver) -> None:
    assert send(f"https://{HOST}:{secure.port}/hook", b"{}", {}) == DeliveryAnswer(200)
    assert secure.got[0].headers["host"] == f"{HOST}:{secure.port}"


def test_the_certificate_of_another_host_is_refused(secure: Receiver) -> None:
    found = send(f"https://other.example:{secure.port}/hook", b"{}", {})
    assert (found.status, secure.got) == (None, [])
    assert "certificate does not hold" in found.error


def test_an_authority_that_nobody_trusts_is_refused(secure: Receiver, settings: Any) -> None:
    settings.WEBHOOK_CA_FILE = ""
    found = send(f"https://{HOST}:{secure.port}/hook", b"{}", {})
    assert "certificate does not hold" in found.error

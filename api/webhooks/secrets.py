"""Secrets of webhooks: stored encrypted, decrypted only to sign."""

import base64
import secrets
from datetime import datetime

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.utils.encoding import force_bytes

from api.models import Webhook

MARK = "whsec_"
# Standard Webhooks 1.0.0, "Signature scheme": between 24 and 64 bytes.
SECRET_BYTES = 32


class SecretUnreadable(ValueError):  # noqa: N818 - says what happened
    """A stored secret was encrypted with a key that is not known any more."""


def new_secret() -> str:
    return MARK + base64.b64encode(secrets.token_bytes(SECRET_BYTES)).decode()


def bytes_of(secret: str) -> bytes:
    return base64.b64decode(secret.removeprefix(MARK))


def encrypted(secret: str) -> str:
    return cipher().encrypt(secret.encode()).decode()


def decrypted(stored: str) -> str:
    try:
        return cipher().decrypt(stored.encode()).decode()
    except InvalidToken as error:
        raise SecretUnreadable("SECRET_KEY has changed since: rotate the secret of the webhook.") from error


def cipher() -> MultiFernet:
    """Encrypts with SECRET_KEY; SECRET_KEY_FALLBACKS still decrypt what they encrypted."""
    return MultiFernet([Fernet(key_of(key)) for key in [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]])


def key_of(secret_key: str | bytes) -> bytes:
    derived = HKDF(algorithm=hashes.SHA256(), length=32, salt=None, info=b"webhook secrets")
    return base64.urlsafe_b64encode(derived.derive(force_bytes(secret_key)))


def valid_secrets(webhook: Webhook, now: datetime) -> list[str]:
    """The newest first; the previous one too while a rotation overlaps."""
    found = [decrypted(webhook.secret)]
    if webhook.previous_secret and webhook.previous_until and now < webhook.previous_until:
        found.append(decrypted(webhook.previous_secret))
    return found

"""What the edges remember: who may call, and what was answered to whom."""

import hashlib
import secrets
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.db import models
from django.utils import timezone

from api.access import Change, LoginAttempt, Reach  # noqa: F401 - records of this app
from api.import_runs import ImportRun  # noqa: F401
from api.webhooks.records import Delivery, Webhook  # noqa: F401

TOKEN_MARK = "spares_"
TOKEN_BYTES = 32


class Role(models.TextChoices):
    STOREROOM = "storeroom", "storeroom"
    MANAGER = "manager", "manager"
    INTEGRATION = "integration", "integration"
    VIEWER = "viewer", "viewer"


def digest(secret: str) -> str:
    """A secret of 256 random bits needs no slow hash."""
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


class AccessTokenQuerySet(models.QuerySet["AccessToken"]):
    def usable(self, secret: str) -> "AccessTokenQuerySet":
        now = timezone.now()
        alive = models.Q(expires_at=None) | models.Q(expires_at__gt=now)
        return self.filter(alive, digest=digest(secret), revoked_at=None)

    def issue(
        self, name: str, *, role: str, days: int | None = None, **fields: Any
    ) -> tuple["AccessToken", str]:
        """A new token and its secret, which is shown once and not kept."""
        secret = TOKEN_MARK + secrets.token_urlsafe(TOKEN_BYTES)
        now = timezone.now()
        token = self.create(
            name=name,
            role=role,
            digest=digest(secret),
            prefix=secret[: AccessToken.PREFIX_LENGTH],
            created_at=now,
            expires_at=None if days is None else now + timedelta(days=days),
            **fields,
        )
        return token, secret


class AccessToken(models.Model):
    PREFIX_LENGTH = 12

    name = models.CharField(max_length=100)
    role = models.CharField(max_length=20, choices=Role)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    prefix = models.CharField(max_length=PREFIX_LENGTH, editable=False)
    scopes = models.JSONField(default=list, blank=True)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, null=True, blank=True)
    created_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = AccessTokenQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(role__in=Role.values),
                name="access_token_role_known",
                violation_error_message="The role of a token must be storeroom, manager, integration or viewer.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix}…)"


class IdempotencyRecord(models.Model):
    """The answer that a caller got for a key; written in the transaction of the effect it answers for."""

    class State(models.TextChoices):
        DONE = "done", "done: the effect stands"
        REFUSED = "refused", "refused: the state did not allow it"

    caller = models.CharField(max_length=100)
    key = models.CharField(max_length=255)
    operation = models.CharField(max_length=500)
    body_digest = models.CharField(max_length=64)
    state = models.CharField(max_length=10, choices=State)
    status = models.PositiveSmallIntegerField()
    headers = models.JSONField(default=dict)
    body = models.TextField()
    created_at = models.DateTimeField(default=timezone.now, db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["caller", "key"],
                name="idempotency_key_once_per_caller",
                violation_error_message="This idempotency key is in use.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.operation} {self.key}"

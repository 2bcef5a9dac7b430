"""Who may do what: roles, tokens, and the plants and storerooms that somebody may see."""

import hashlib
import secrets
from datetime import datetime, timedelta
from typing import Any, Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from drives.models import Plant
from inventory.models import Storeroom

TOKEN_MARK = "spares_"
TOKEN_BYTES = 32
TOLD_BEFORE = timedelta(days=14)
"""So long before its end a token is named to whoever has to replace it."""


class Role(models.TextChoices):
    STOREROOM = "storeroom", _("storeroom")
    MANAGER = "manager", _("manager")
    INTEGRATION = "integration", _("integration")
    VIEWER = "viewer", _("viewer")


def digest(secret: str) -> str:
    """A secret of 256 random bits needs no slow hash."""
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


class AccessTokenQuerySet(models.QuerySet["AccessToken"]):
    def expiring(self) -> Self:
        """Those that somebody has to replace soon."""
        now = timezone.now()
        return self.filter(revoked_at=None, expires_at__gt=now, expires_at__lte=now + TOLD_BEFORE)

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
    wrote_at = models.DateTimeField(
        null=True, blank=True, editable=False, help_text=_("Noted where replicas are read from.")
    )

    objects = AccessTokenQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(role__in=Role.values),
                name="access_token_role_known",
                violation_error_message=_(
                    "The role of a token must be storeroom, manager, integration or viewer."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix}…)"

    def is_usable(self, now: datetime) -> bool:
        return self.revoked_at is None and (self.expires_at is None or self.expires_at > now)


class Reach(models.Model):
    """The plants and storerooms that a user or a token may see; without a row there is no limit."""

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.CASCADE, related_name="reach"
    )
    token = models.OneToOneField(
        "api.AccessToken", null=True, blank=True, on_delete=models.CASCADE, related_name="reach"
    )
    plants = models.ManyToManyField(Plant, blank=True, related_name="+")
    storerooms = models.ManyToManyField(Storeroom, blank=True, related_name="+")

    class Meta:
        verbose_name_plural = _("reaches")
        constraints = [
            models.CheckConstraint(
                condition=Q(user__isnull=False, token__isnull=True)
                | Q(user__isnull=True, token__isnull=False),
                name="reach_of_a_user_or_a_token",
                violation_error_message=_("A reach belongs to a user or to a token."),
            )
        ]

    def __str__(self) -> str:
        return str(self.user or self.token)

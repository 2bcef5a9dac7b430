"""Who may reach what, who tried to get in, and who changed what."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from drives.models import Plant
from inventory.models import Storeroom


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
        constraints = [
            models.CheckConstraint(
                condition=Q(user__isnull=False, token__isnull=True)
                | Q(user__isnull=True, token__isnull=False),
                name="reach_of_a_user_or_a_token",
                violation_error_message="A reach belongs to a user or to a token.",
            )
        ]

    def __str__(self) -> str:
        return f"reach of {self.user or self.token}"


class LoginAttempt(models.Model):
    """A try to log in; counted per name and per address."""

    username = models.CharField(max_length=150)
    address = models.CharField(max_length=45, blank=True)
    at = models.DateTimeField(default=timezone.now)
    succeeded = models.BooleanField(default=False)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["username", "at"], name="login_attempt_of_name"),
            models.Index(fields=["address", "at"], name="login_attempt_of_address"),
        ]

    def __str__(self) -> str:
        return f"{self.username} at {self.at:%Y-%m-%d %H:%M}"


class Change(models.Model):
    """Who changed which record from what to what; appended, never edited."""

    at = models.DateTimeField(auto_now_add=True)
    by_name = models.CharField(max_length=150)
    request_id = models.CharField(max_length=64, blank=True)
    action = models.CharField(
        max_length=10, choices=[(word, word) for word in ("create", "change", "delete")]
    )
    record = models.CharField(max_length=60, help_text="Such as inventory.item.")
    key = models.CharField(max_length=120, help_text="Its natural key, or its id.")
    storeroom = models.CharField(max_length=20, blank=True)
    plant = models.CharField(max_length=20, blank=True)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["record", "key", "id"], name="change_of_record"),
            models.Index(fields=["by_name", "id"], name="change_of_person"),
        ]

    def __str__(self) -> str:
        return f"{self.action} {self.record} {self.key}"

"""What callers did: answers by their key, tries to log in, counts of requests, changes of records."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.models.text_index import TextIndex


class IdempotencyRecord(models.Model):
    """The answer that a caller got for a key; written in the transaction of the effect it answers for."""

    class State(models.TextChoices):
        DONE = "done", _("done: the effect stands")
        REFUSED = "refused", _("refused: the state did not allow it")

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
                violation_error_message=_("This idempotency key is in use."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.operation} {self.key}"


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
        return f"{self.username}, {self.at:%Y-%m-%d %H:%M}"


class RateCount(models.Model):
    """How much of a limit of one caller the processes have taken in one minute of the clock (since 1970)."""

    key = models.CharField(max_length=120, primary_key=True)
    minute = models.BigIntegerField()
    taken = models.BigIntegerField()

    def __str__(self) -> str:
        return self.key


class Change(models.Model):
    """Who changed which record from what to what; appended, never edited."""

    at = models.DateTimeField(auto_now_add=True)
    by_name = models.CharField(max_length=150)
    request_id = models.CharField(max_length=64, blank=True)
    action = models.CharField(
        max_length=10, choices=[("create", _("create")), ("change", _("change")), ("delete", _("delete"))]
    )
    record = models.CharField(max_length=60, help_text=_("Such as inventory.item."))
    key = models.CharField(max_length=120, help_text=_("Its natural key, or its id."))
    storeroom = models.CharField(max_length=20, blank=True)
    plant = models.CharField(max_length=20, blank=True)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["record", "key", "id"], name="change_of_record"),
            models.Index(fields=["by_name", "id"], name="change_of_person"),
            TextIndex(fields=["key", "by_name"], name="change_text"),
        ]

    def __str__(self) -> str:
        return f"{self.action} {self.record} {self.key}"

"""Every row of the edges: tokens, who may see what, logins, changes, answers by key, jobs, imports, webhooks."""

import hashlib
import secrets
from datetime import datetime, timedelta
from typing import Any, Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

import api.import_models
import api.source_models  # noqa: F401 - its rows belong to this app
from drives.models import Plant, Position
from inventory.models import Event, Storeroom
from inventory.models.fields import Stamped, one_of
from inventory.models.text_index import TextIndex

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


class JobState(models.TextChoices):
    QUEUED = "queued", _("queued")
    RUNNING = "running", _("running")
    DONE = "done", _("done")
    FAILED = "failed", _("failed")
    INTERRUPTED = "interrupted", _("interrupted: its process ended")


class BackgroundJobQuerySet(models.QuerySet["BackgroundJob"]):
    def unfinished(self) -> "BackgroundJobQuerySet":
        return self.filter(state__in=(JobState.QUEUED, JobState.RUNNING))

    def answered(self) -> "BackgroundJobQuerySet":
        """With an answer, the newest first."""
        return self.filter(state=JobState.DONE, answer__isnull=False).order_by("-started_at", "-id")


class BackgroundJob(models.Model):
    """Work that takes seconds or more, carried out by the scheduler. Requests for the same work share one job."""

    kind = models.CharField(max_length=20)
    parameters = models.JSONField(default=dict, blank=True)
    scope = models.JSONField(
        default=dict, help_text=_("Ids of the plants and storerooms that it may see; null: all.")
    )
    scope_key = models.CharField(max_length=64, help_text=_("Digest of the scope."))
    key = models.CharField(max_length=64, help_text=_("Digest of kind, parameters and scope."))
    state = models.CharField(max_length=12, choices=JobState.choices, default=JobState.QUEUED)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    attempts = models.PositiveSmallIntegerField(default=0)
    requested_by_name = models.CharField(max_length=150, blank=True)
    caller = models.CharField(max_length=100, blank=True, help_text=_("Token or user, by id: names repeat."))
    request_id = models.CharField(max_length=64, blank=True)
    requested_at = models.DateTimeField(default=timezone.now)
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    answer = models.JSONField(null=True, blank=True)
    error = models.CharField(max_length=40, blank=True)

    objects = BackgroundJobQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["key", "-started_at"], name="job_answer_of_key"),
            models.Index(fields=["kind", "-finished_at"], name="job_of_kind"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["key"],
                condition=Q(state__in=(JobState.QUEUED, JobState.RUNNING)),
                name="one_unfinished_job_of_a_key",
                violation_error_message=_("The same job is under way."),
            ),
            one_of("job", "state", JobState, optional=False),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}: {self.state}"


class ExposureLine(models.Model):
    """One position of a calculated list of positions at risk, as the scope of its job sees it; `place` counts from 1."""

    job = models.ForeignKey(
        BackgroundJob, on_delete=models.CASCADE, related_name="exposure_lines", db_index=False
    )
    place = models.PositiveIntegerField()
    position = models.ForeignKey(Position, on_delete=models.CASCADE, related_name="+")
    plant = models.ForeignKey(Plant, on_delete=models.CASCADE, related_name="+")
    criticality = models.CharField(max_length=20, blank=True)
    risk = models.JSONField()

    class Meta:
        ordering = ["job", "place"]
        indexes = [models.Index(fields=["job", "plant", "place"], name="exposure_line_of_plant")]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "place"],
                name="exposure_line_has_its_place",
                violation_error_message=_("Another position has this place in the list of the job."),
            ),
            models.UniqueConstraint(
                fields=["job", "position"],
                name="exposure_line_once",
                violation_error_message=_("The job lists this position already."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.place}. of {self.job_id}"


class AnswerLines(models.Model):
    """Some lines of a list that is too long for the answer of its job; `last` is the place of the last of them, from 1."""

    job = models.ForeignKey(
        BackgroundJob, on_delete=models.CASCADE, related_name="answer_lines", db_index=False
    )
    list = models.CharField(max_length=20)
    last = models.PositiveIntegerField()
    lines = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["job", "list", "last"],
                name="answer_lines_have_their_place",
                violation_error_message=_("Other lines have this place in the list of the job."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.list} of {self.job_id}, up to {self.last}"


class ImportState(models.TextChoices):
    MAPPING = "mapping", _("its headings are not mapped yet")
    QUEUED = "queued", _("queued")
    RUNNING = "running", _("running")
    DONE = "done", _("done")
    FAILED = "failed", _("failed: nothing was written")
    INTERRUPTED = "interrupted", _("interrupted: nothing was written")


class ImportRun(models.Model):
    kind = models.CharField(max_length=20)
    file_name = models.CharField(max_length=200, blank=True)
    source = models.CharField(
        max_length=40, blank=True, help_text="Its headings are mapped as those of this source."
    )
    state = models.CharField(max_length=12, choices=ImportState.choices, default=ImportState.QUEUED)
    dry_run = models.BooleanField(default=False)
    partial = models.BooleanField(default=False)
    written = models.BooleanField(default=False)
    progress = models.JSONField(default=dict)
    counts = models.JSONField(default=dict)
    problems = models.JSONField(default=list)
    notes = models.JSONField(default=list)
    row_results = models.JSONField(default=list)
    created_at = models.DateTimeField(default=timezone.now)
    finished_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    by_name = models.CharField(max_length=150, blank=True)
    caller = models.CharField(max_length=100, blank=True, help_text=_("Token or user, by id: names repeat."))

    class Meta:
        ordering = ["-id"]
        constraints = [one_of("import_run", "state", ImportState, optional=False)]

    def __str__(self) -> str:
        return f"{self.kind} of {self.created_at:%Y-%m-%d %H:%M}"

    def count_of(self, outcome: str) -> int:
        return int(self.counts.get(outcome, 0))


class ImportFile(models.Model):
    """A part of what was sent, until its run has ended: no process holds the whole of a large file."""

    run = models.ForeignKey(ImportRun, on_delete=models.CASCADE, related_name="parts")
    number = models.PositiveSmallIntegerField(default=0)
    content = models.BinaryField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["run", "number"],
                name="one_part_of_a_file_of_a_number",
                violation_error_message=_("The run has this part of its file already."),
            )
        ]

    def __str__(self) -> str:
        return f"part {self.number} of the file of {self.run}"


class WebhookState(models.TextChoices):
    ACTIVE = "active", _("active")
    PAUSED = "paused", _("paused by a person")
    DISABLED = "disabled", _("disabled: deliveries failed for too long, or the endpoint is gone")


class Webhook(Stamped):
    """One subscriber. The secrets are kept encrypted; they are shown once, when they are made."""

    url = models.CharField(max_length=500)
    description = models.CharField(max_length=200, blank=True)
    types = models.JSONField(default=list, blank=True, help_text=_("Event types; empty: all."))
    secret = models.TextField(editable=False)
    previous_secret = models.TextField(blank=True, editable=False)
    previous_until = models.DateTimeField(null=True, blank=True, editable=False)
    state = models.CharField(max_length=10, choices=WebhookState.choices, default=WebhookState.ACTIVE)
    state_reason = models.CharField(max_length=200, blank=True)
    failing_since = models.DateTimeField(null=True, blank=True)
    quiet_until = models.DateTimeField(
        null=True, blank=True, help_text=_("No delivery before this time, as the endpoint requested.")
    )
    owner_user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    owner_token = models.ForeignKey(
        "api.AccessToken", null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    from_sequence = models.PositiveBigIntegerField(default=0, help_text=_("Events after this one are sent."))

    class Meta:
        ordering = ["id"]
        constraints = [one_of("webhook", "state", WebhookState, optional=False)]

    def __str__(self) -> str:
        return self.url


class DeliveryState(models.TextChoices):
    WAITING = "waiting", _("waiting")
    DELIVERED = "delivered", _("delivered")
    DEAD = "dead", _("dead: every attempt failed")


class Delivery(models.Model):
    """One event for one subscriber."""

    webhook = models.ForeignKey(Webhook, on_delete=models.CASCADE, related_name="deliveries")
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="deliveries")
    state = models.CharField(max_length=10, choices=DeliveryState.choices, default=DeliveryState.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    next_attempt_at = models.DateTimeField(default=timezone.now)
    claimed_until = models.DateTimeField(null=True, blank=True, help_text=_("A worker is at it until then."))
    last_status = models.PositiveSmallIntegerField(null=True, blank=True)
    last_error = models.CharField(max_length=200, blank=True)
    last_attempt_at = models.DateTimeField(null=True, blank=True)
    delivered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        indexes = [
            models.Index(
                fields=["webhook", "next_attempt_at"], condition=Q(state="waiting"), name="delivery_waiting"
            )
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["webhook", "event"],
                name="event_once_per_webhook",
                violation_error_message=_("This event is on its way to that subscriber already."),
            ),
            one_of("delivery", "state", DeliveryState, optional=False),
        ]

    def __str__(self) -> str:
        return f"{self.event_id} to {self.webhook_id}"

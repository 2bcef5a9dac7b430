"""Background jobs with their answers."""

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from drives.models import Plant, Position
from inventory.models.fields import one_of


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

"""Files that were sent to be imported, each of one kind."""

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import one_of


class ImportState(models.TextChoices):
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
        return f"{self.kind}, {self.created_at:%Y-%m-%d %H:%M}"

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
        return f"{self.run}: {self.number}"

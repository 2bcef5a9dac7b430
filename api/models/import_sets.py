"""Files that are imported together: what was sent, what each sheet is, what came of it, and what it changed."""

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import one_of


class ImportSetState(models.TextChoices):
    PROPOSED = "proposed", _("to look through")
    QUEUED = "queued", _("queued")
    RUNNING = "running", _("running")
    TRIED = "tried", _("tried: nothing was written")
    DONE = "done", _("done")
    REFUSED = "refused", _("refused: nothing was written")
    INTERRUPTED = "interrupted", _("interrupted: nothing was written")
    UNDONE = "undone", _("undone")


class ImportSet(models.Model):
    """Files and workbooks that are imported in one go: all of it is written, or nothing."""

    name = models.CharField(max_length=200)
    source = models.CharField(
        max_length=40, blank=True, help_text="Where the files come from; what is said of them is kept for it."
    )
    state = models.CharField(max_length=12, choices=ImportSetState.choices, default=ImportSetState.PROPOSED)
    dry_run = models.BooleanField(default=True)
    progress = models.JSONField(default=dict)
    undo_result = models.JSONField(default=dict)
    created_at = models.DateTimeField(default=timezone.now)
    finished_at = models.DateTimeField(null=True, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by_name = models.CharField(max_length=150, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    by_name = models.CharField(max_length=150, blank=True)
    caller = models.CharField(max_length=100, blank=True, help_text="Token or user, by id: names repeat.")

    class Meta:
        ordering = ["-id"]
        constraints = [one_of("import_set", "state", ImportSetState, optional=False)]

    def __str__(self) -> str:
        return f"{self.name}, {self.created_at:%Y-%m-%d %H:%M}"


class SentFile(models.Model):
    """One file of a set."""

    set = models.ForeignKey(ImportSet, on_delete=models.CASCADE, related_name="files", db_index=False)
    number = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=200)

    class Meta:
        ordering = ["set", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["set", "number"],
                name="sent_file_of_a_number_once",
                violation_error_message=_("The import has this file already."),
            )
        ]

    def __str__(self) -> str:
        return self.name


class SentFilePart(models.Model):
    """A part of a file, until its import is done: no process holds the whole of a large one."""

    file = models.ForeignKey(SentFile, on_delete=models.CASCADE, related_name="parts", db_index=False)
    number = models.PositiveSmallIntegerField()
    content = models.BinaryField()

    class Meta:
        ordering = ["file", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["file", "number"],
                name="part_of_sent_file_once",
                violation_error_message=_("The file has this part already."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.file_id}: {self.number}"


class ImportSheet(models.Model):
    """One sheet of a workbook, or a file of text; an empty kind leaves it out."""

    set = models.ForeignKey(ImportSet, on_delete=models.CASCADE, related_name="sheets", db_index=False)
    file = models.ForeignKey(SentFile, on_delete=models.CASCADE, related_name="sheets")
    number = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=100, blank=True, help_text="Of the sheet; empty for a file of text.")
    kind = models.CharField(max_length=20, blank=True)
    columns = models.JSONField(default=list)
    rows = models.PositiveIntegerField(null=True, blank=True)
    counts = models.JSONField(default=dict)
    problems = models.JSONField(default=list)
    notes = models.JSONField(default=list)
    row_results = models.JSONField(default=list)
    reading = models.JSONField(default=dict, help_text="How it was read when its page was shown last.")

    class Meta:
        ordering = ["set", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["set", "number"],
                name="import_sheet_of_a_number_once",
                violation_error_message=_("The import has this sheet already."),
            )
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def title(self) -> str:
        return f"{self.file.name}, {self.name}" if self.name else self.file.name

    def count_of(self, outcome: str) -> int:
        return int(self.counts.get(outcome, 0))


class ImportedChange(models.Model):
    """A record that a set created or changed, in the order of writing: what its undoing takes back."""

    set = models.ForeignKey(ImportSet, on_delete=models.CASCADE, related_name="changes")
    model = models.CharField(max_length=60, help_text="Such as inventory.item.")
    record_id = models.BigIntegerField()
    is_new = models.BooleanField()
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.model} {self.record_id}"

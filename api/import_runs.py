"""A file that was sent: what it was, how far its import came, and what happened to each row."""

import logging
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import models
from django.utils import timezone

from api.exchange.reading import Sheet
from api.exchange.results import ImportResult, RowOutcome
from api.exchange.run import run_import
from inventory.ledger.movement import Who

logger = logging.getLogger(__name__)

LONGEST_RUN = timedelta(minutes=15)
"""No import within the limits of size takes as long; one that seems to was interrupted."""


class ImportState(models.TextChoices):
    QUEUED = "queued", "queued"
    RUNNING = "running", "running"
    DONE = "done", "done"
    FAILED = "failed", "failed: nothing was written"
    INTERRUPTED = "interrupted", "interrupted: nothing was written"


class ImportRun(models.Model):
    kind = models.CharField(max_length=20)
    file_name = models.CharField(max_length=200, blank=True)
    state = models.CharField(max_length=12, choices=ImportState.choices, default=ImportState.QUEUED)
    dry_run = models.BooleanField(default=False)
    partial = models.BooleanField(default=False)
    written = models.BooleanField(default=False)
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
    caller = models.CharField(max_length=100, blank=True, help_text="Token or user, by id: names repeat.")

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(state__in=ImportState.values),
                name="import_run_state_known_word",
                violation_error_message="state must be one of " + ", ".join(ImportState.values) + ".",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.created_at:%Y-%m-%d %H:%M}"

    def state_at(self, now: datetime) -> str:
        """The state as it is known; a run that nobody ended in time was interrupted, and left nothing behind."""
        ended = self.state not in (ImportState.QUEUED, ImportState.RUNNING)
        late = now - self.created_at > LONGEST_RUN
        return str(ImportState.INTERRUPTED if late and not ended else self.state)

    def count_of(self, outcome: RowOutcome) -> int:
        return int(self.counts.get(outcome, 0))


def carry_out(run: ImportRun, sheet: Sheet, *, by: Who) -> None:
    """Import the rows and keep what came of them; the rows come in whole or not at all."""
    run.state = ImportState.RUNNING
    run.save(update_fields=["state"])
    try:
        result = run_import(run.kind, sheet, dry_run=run.dry_run, partial=run.partial, by=by)
    except Exception:
        logger.exception("The import %s broke off.", run.pk)
        result = ImportResult(
            run.kind, problems=("The service failed, nothing was written: send the file again.",)
        )
    keep(run, result)


def keep(run: ImportRun, result: ImportResult) -> None:
    values: dict[str, Any] = {
        "state": ImportState.DONE if is_done(result) else ImportState.FAILED,
        "written": result.written,
        "counts": result.counts,
        "problems": list(result.problems),
        "notes": list(result.notes),
        "row_results": result.as_json(),
        "finished_at": timezone.now(),
    }
    for name, value in values.items():
        setattr(run, name, value)
    run.save(update_fields=list(values))


def is_done(result: ImportResult) -> bool:
    return not result.problems and (result.written or result.dry_run)

"""From when the record of a storeroom is complete: proposed by every recompute, settled by a manager."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.models import Storeroom
from inventory.models.fields import Stamped, one_of, unique
from inventory.models.messages import invalid


class RecordSource(models.TextChoices):
    """How a record of demand came."""

    REQUESTS = "requests", _("requests entered or imported")
    WORK_ORDERS = "work_orders", _("work orders of the feed")
    MOVEMENTS = "movements", _("movements booked or imported")
    INSTALLATIONS = "installations", _("removals of installed units")


class RecordStart(Stamped):
    """What lies before it counts as lives of units, not as time in which demand would have been recorded."""

    storeroom = models.ForeignKey(Storeroom, on_delete=models.CASCADE, related_name="record_starts")
    source = models.CharField(max_length=15, choices=RecordSource.choices)
    complete_from = models.DateField(
        null=True,
        blank=True,
        help_text=_(
            "The first day of the complete record; empty: as proposed. Where any source of a storeroom has one, the "
            "earliest of them counts."
        ),
    )
    note = models.CharField(max_length=200, blank=True, help_text=_("Why this day."))
    proposed_from = models.DateTimeField(
        null=True, blank=True, help_text=_("From the density of the records, by the last recompute.")
    )
    reason = models.JSONField(default=dict, blank=True, help_text=_("Why it is proposed: a fact."))

    class Meta:
        ordering = ["storeroom_id", "source"]
        constraints = [
            unique(
                "record_start_once",
                ["storeroom", "source"],
                _("The record of this storeroom and source has a row already: change that one."),
            ),
            one_of("record_start", "source", RecordSource, optional=False),
        ]

    def __str__(self) -> str:
        return f"{self.storeroom} {self.source}"

    def clean(self) -> None:
        if self.storeroom_id is not None and self.lies_in_future(timezone.now()):
            raise ValidationError({"complete_from": invalid("record_start_in_future")})

    def lies_in_future(self, now: datetime) -> bool:
        """By the storeroom's own calendar."""
        return self.complete_from is not None and self.complete_from > self._today(now)

    def _today(self, now: datetime) -> date:
        return now.astimezone(ZoneInfo(self.storeroom.timezone)).date()

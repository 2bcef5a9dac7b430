"""Events for other systems, written in the transaction of the change."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import check, unique


class Event(models.Model):
    """One event. `sequence` is given after the commit, in the order in which events became visible."""

    type = models.CharField(max_length=60, help_text=_("Dotted, such as stock.moved."))
    aggregate = models.CharField(
        max_length=120, help_text=_("The subject, such as stock/41-0105/OM-MAIN/new.")
    )
    version = models.PositiveIntegerField(help_text=_("Counts the events of its aggregate from 1."))
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    storeroom = models.CharField(
        max_length=20,
        blank=True,
        help_text=_("Visible to those who may see this storeroom; empty: to everybody."),
    )
    plant = models.CharField(max_length=20, blank=True)
    data = models.JSONField(default=dict)
    sequence = models.PositiveBigIntegerField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["id"], condition=Q(sequence__isnull=True), name="event_waiting")]
        constraints = [
            unique(
                "event_version_once",
                ["aggregate", "version"],
                _("This aggregate has an event of that version."),
            ),
            check("event_version_from_1", Q(version__gte=1), _("version counts from 1.")),
        ]

    def __str__(self) -> str:
        return f"{self.type} {self.aggregate} v{self.version}"

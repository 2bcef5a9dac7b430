"""The verdict with which a part left the storeroom for a position, or was fitted there."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from drives.models.drive import Position
from drives.models.history import Installation
from inventory.interchange.vocabulary import Grade
from inventory.models import Item, StockEntry
from inventory.models.fields import check, one_of, optional_link, word


class RecordedVerdict(models.Model):
    """Frozen as it was then; written by `drives.substitutes.fitting_verdict` alone."""

    entry = models.OneToOneField(
        StockEntry, null=True, blank=True, on_delete=models.PROTECT, related_name="recorded_verdict"
    )
    installation = models.OneToOneField(
        Installation, null=True, blank=True, on_delete=models.CASCADE, related_name="recorded_verdict"
    )
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="recorded_verdicts")
    item = optional_link(Item, "recorded_verdicts")
    grade = word(Grade, optional=False)
    quote = models.CharField(max_length=16, help_text=_("The same as long as the verdict is the same."))
    checks = models.JSONField(default=list, blank=True)
    reason = models.CharField(
        max_length=200,
        blank=True,
        help_text=_("Why it was issued or fitted although it does not simply fit."),
    )
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by_name = models.CharField(max_length=150, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["recorded_at", "grade"], name="recorded_verdict_of_day"),
            models.Index(fields=["position", "item"], name="recorded_verdict_of_place"),
        ]
        constraints = [
            one_of("recorded_verdict", "grade", Grade, optional=False),
            check(
                "recorded_verdict_of_issue_or_unit",
                Q(entry__isnull=False, installation__isnull=True)
                | Q(entry__isnull=True, installation__isnull=False),
                _("A verdict is recorded with an issue or with a unit."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.entry or self.installation}: {self.grade}"

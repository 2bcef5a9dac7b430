"""What was estimated from the record of the whole plant up to the end of a month, until it is estimated again."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from inventory.models import Storeroom
from inventory.models.fields import unique


class PlantEstimate(models.Model):
    """The only row has the key 1. Written by `drives.demand` alone."""

    until = models.DateTimeField()
    inputs_digest = models.CharField(max_length=64)
    families = models.JSONField()
    """Each with its rates; `PoolEstimate.family` counts along this list."""
    starts = models.JSONField()
    """From when the record of each storeroom is complete."""

    def __str__(self) -> str:
        return f"{self.until:%Y-%m-%d}"


class PoolEstimate(models.Model):
    """What one part in one storeroom adds to its families."""

    part = models.PositiveBigIntegerField()
    """The lowest id of its items at that time."""
    storeroom = models.ForeignKey(Storeroom, on_delete=models.CASCADE, related_name="+")
    family = models.PositiveIntegerField()
    jobs = models.PositiveIntegerField()
    exposure_years = models.FloatField()

    class Meta:
        constraints = [
            unique(
                "one_estimate_for_each_pool",
                ["part", "storeroom"],
                _("This part has an estimate in that storeroom already."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.part} {self.storeroom}"

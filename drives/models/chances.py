"""What the last calculation left of each position's demand: answers read it instead of the whole history."""

from django.db import models

from drives.models.drive import Position


class StoredDemand(models.Model):
    """The unplanned demand of a position; `pieces` is empty where its part is not known. Written by `drives.demand` alone."""

    position = models.OneToOneField(
        Position, on_delete=models.CASCADE, primary_key=True, related_name="stored_demand"
    )
    as_of = models.DateTimeField()
    pieces = models.FloatField(null=True)
    years = models.FloatField(null=True)
    prior_shape = models.FloatField(null=True)
    prior_years = models.FloatField(null=True)
    age_hours = models.FloatField(null=True)
    hours_per_year = models.FloatField(null=True)
    laws = models.JSONField(default=list)
    """Chance, shape and scale in hours of each law of the unit's life that the record leaves possible."""

    def __str__(self) -> str:
        return f"{self.position_id}"

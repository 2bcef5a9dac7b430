"""What the last calculation left of each position's demand: answers read it instead of the whole history."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from drives.models.drive import Position
from inventory.models.fields import all_or_none, check


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

    class Meta:
        constraints = [
            all_or_none("stored_demand", "pieces years prior_shape prior_years"),
            all_or_none("stored_demand", "age_hours hours_per_year"),
            check(
                "stored_demand_of_unit_has_a_rate",
                Q(age_hours__isnull=True) | Q(pieces__isnull=False),
                _("The life of a unit is stored with the rate of what it does not explain."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position_id}"

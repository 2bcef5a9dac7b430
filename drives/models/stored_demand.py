"""What the last calculation left of the demand of each position and part: answers read it instead of the whole history."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from drives.models.drive import Position
from inventory.models import Item, Storeroom
from inventory.models.fields import all_or_none, check, unique


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
    waits = models.JSONField(null=True)
    """Of each storeroom with stops on record: what waiting for parts took."""
    part = models.PositiveBigIntegerField(null=True, db_index=True)
    """The lowest id of the items of its part; empty where it counts in no pool."""
    unit_digest = models.CharField(max_length=16, blank=True)
    """Of what was recorded of its units."""

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
        return str(self.position)


class ItemPart(models.Model):
    """An item that is the same part as others. Written by `drives.demand` alone."""

    item = models.OneToOneField(Item, on_delete=models.CASCADE, primary_key=True, related_name="+")
    part = models.PositiveBigIntegerField(db_index=True)
    """The lowest id of these items."""

    def __str__(self) -> str:
        return f"{self.item}: {self.part}"


class StoredNeed(models.Model):
    """The demand for an item in a storeroom. Written by `drives.demand` alone, all of them together."""

    item = models.ForeignKey(Item, on_delete=models.CASCADE, related_name="+")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.CASCADE, related_name="+", db_index=False)
    as_of = models.DateTimeField()
    need = models.JSONField()
    """What is not as `Need` has it by default."""

    class Meta:
        constraints = [
            unique(
                "stored_need_once",
                ["storeroom", "item"],
                _("The need for this item in this storeroom is stored already."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.item}, {self.storeroom}"

"""What a plant may set for itself: thresholds of the verdict and minutes of shop work."""

from django.db import models
from django.db.models import Q

from inventory.interchange.vocabulary import Operation
from inventory.models.fields import Stamped, word


class Rule(Stamped):
    """A threshold of the verdict that this plant sets otherwise than the shipped value."""

    name = models.SlugField(max_length=60, unique=True)
    value = models.FloatField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return f"{self.name} = {self.value:g}"


class ShopTime(Stamped):
    """Minutes that one operation takes here."""

    class Basis(models.TextChoices):
        ESTIMATE = "estimate", "estimate"
        RECORDED = "recorded", "recorded"

    operation = word(Operation, optional=False, unique=True)
    minutes = models.PositiveIntegerField()
    basis = models.CharField(max_length=10, choices=Basis.choices, default=Basis.ESTIMATE)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["operation"]
        constraints = [
            models.CheckConstraint(
                condition=Q(minutes__lte=7 * 24 * 60),
                name="shop_time_within_a_week",
                violation_error_message="minutes must be at most a week.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.operation}: {self.minutes} min"

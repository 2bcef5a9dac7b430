"""Kits: the parts of one job, reserved together."""

from datetime import date

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import Stamped, check, one_of, unique
from inventory.models.places import Storeroom
from inventory.models.text_index import TextIndex


class KitState(models.TextChoices):
    OPEN = "open", _("open")
    STAGED = "staged", _("staged")
    USED = "used", _("used")
    RELEASED = "released", _("released")


class KitQuerySet(models.QuerySet["Kit"]):
    def alive(self) -> "KitQuerySet":
        return self.filter(state__in=[KitState.OPEN, KitState.STAGED])

    def older_than(self, day: date) -> "KitQuerySet":
        """Kits made before a day that still reserve parts."""
        return self.alive().filter(created_at__date__lt=day)


class Kit(Stamped):
    """Its lines are the reservations that refer to it."""

    work_order = models.CharField(max_length=60)
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="kits")
    needed_by = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=60, blank=True, help_text=_("Where the parts are staged."))
    staged_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=KitState.choices, default=KitState.OPEN)
    made_by_name = models.CharField(max_length=150, blank=True)

    objects = KitQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        indexes = [TextIndex(fields=["work_order", "place", "made_by_name"], name="kit_text")]
        constraints = [
            one_of("kit", "state", KitState, optional=False),
            unique(
                "one_kit_alive_per_job",
                ["work_order", "storeroom"],
                _("This work order already has a kit in that storeroom: use that one."),
                condition=Q(state__in=["open", "staged"]),
            ),
            check("kit_names_its_job", ~Q(work_order=""), _("work_order must not be empty.")),
        ]

    def __str__(self) -> str:
        return self.work_order

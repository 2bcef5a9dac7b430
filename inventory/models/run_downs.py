"""Items marked to be run down: who said so, why, and who took it back."""

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import check, unique
from inventory.models.item import Item


class RunDown(models.Model):
    """`drives.assortment.running_down` alone writes it, together with the lifecycle of the item."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="run_downs")
    reason = models.CharField(max_length=200)
    marked_at = models.DateTimeField(default=timezone.now)
    marked_by_name = models.CharField(max_length=150)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by_name = models.CharField(max_length=150, blank=True)
    undone_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            unique(
                "run_down_open_once",
                ["item"],
                _("This item is being run down already."),
                condition=Q(undone_at__isnull=True),
            ),
            check("run_down_has_a_reason", ~Q(reason=""), _("Give a reason.")),
            check(
                "run_down_undone_by_someone",
                Q(undone_at__isnull=True, undone_by_name="", undone_reason="")
                | (Q(undone_at__isnull=False) & ~Q(undone_by_name="") & ~Q(undone_reason="")),
                _("Who took it back, when and why are given together."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item}, {self.marked_at:%Y-%m-%d}"

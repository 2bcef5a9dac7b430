"""Which item fits which position, and with how much work; calculated from the verdicts and stored for speed."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from drives.models.drive import Position
from inventory.models import Item
from inventory.models.fields import check, unique


class Cover(models.Model):
    """An item that serves a position; what is unfit or left to a person has no row. `drives.demand.cover_refresh` alone writes it."""

    position = models.ForeignKey(Position, on_delete=models.CASCADE, related_name="cover")
    item = models.ForeignKey(Item, on_delete=models.CASCADE, related_name="cover")
    grade = models.CharField(max_length=12)
    work_minutes = models.PositiveIntegerField(null=True, blank=True)
    work_basis = models.CharField(max_length=10, blank=True)

    class Meta:
        ordering = ["position_id", "item_id"]
        indexes = [models.Index(fields=["item", "grade"], name="cover_of_item")]
        constraints = [
            unique("cover_once", ["position", "item"], _("This item is judged for that position already.")),
            check(
                "cover_grade_known",
                Q(grade__in=["drop_in", "with_work", "needs_review"]),
                _("grade must be drop_in, with_work or needs_review."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item}, {self.position}: {self.grade}"


class MissingAttribute(models.Model):
    """An attribute that is not recorded of an item, and would let it serve a position; `drives.demand.cover_refresh` alone writes it."""

    position = models.ForeignKey(Position, on_delete=models.CASCADE, related_name="missing_attributes")
    item = models.ForeignKey(
        Item, on_delete=models.CASCADE, related_name="missing_attributes", db_index=False
    )
    attribute = models.CharField(max_length=30)
    is_alone = models.BooleanField(
        help_text=_("It alone keeps the item from serving; else others of the item are missing with it.")
    )

    class Meta:
        ordering = ["item_id", "attribute", "position_id"]
        constraints = [
            unique(
                "missing_attribute_once",
                ["item", "attribute", "position"],
                _("This attribute is missing for that position already."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.item}, {self.position}: {self.attribute}"


class CoverState(models.Model):
    """The inputs of a position's cover; a different hash means that it must be calculated again."""

    position = models.OneToOneField(Position, on_delete=models.CASCADE, related_name="cover_state")
    inputs_hash = models.CharField(max_length=64)

    def __str__(self) -> str:
        return str(self.position)

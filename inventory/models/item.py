"""A stock item: its number, description and specification."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import (
    Stamped,
    check,
    currency,
    filters,
    money,
    not_negative,
    one_of,
    orders,
    within,
)
from inventory.models.messages import invalid
from inventory.models.specification import Specification
from inventory.models.text_index import NormalForm, TextIndex


class Unit(models.TextChoices):
    EACH = "each", _("each")
    LINK = "link", _("link")


class HoldingReason(models.TextChoices):
    USAGE = "usage", _("usage")
    INSURANCE = "insurance", _("insurance")
    PROJECT = "project", _("project")
    SURPLUS = "surplus", _("surplus")


class Lifecycle(models.TextChoices):
    ACTIVE = "active", _("active")
    RUN_DOWN = "run_down", _("run down")
    BLOCKED = "blocked", _("blocked")


class ItemQuerySet(models.QuerySet["Item"]):
    def with_specification(self) -> "ItemQuerySet":
        return self.select_related("specification")

    def not_merged(self) -> "ItemQuerySet":
        return self.filter(merged_into__isnull=True)


class Item(Stamped):
    stock_number = models.CharField(max_length=40, unique=True)
    description = models.CharField(max_length=200, blank=True)
    specification = models.ForeignKey(
        Specification,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="items",
        db_index=False,  # `item_numbers_of_part` begins with it.
    )
    unit = models.CharField(max_length=5, choices=Unit.choices, default=Unit.EACH)
    maker = models.CharField(max_length=60, blank=True)
    maker_part_number = models.CharField(max_length=60, blank=True)
    unit_cost = money()
    currency = currency()
    lead_time_days = models.PositiveSmallIntegerField(null=True, blank=True)
    stocked = models.BooleanField(default=True)
    holding_reason = models.CharField(
        max_length=10, choices=HoldingReason.choices, default=HoldingReason.USAGE
    )
    lifecycle = models.CharField(max_length=10, choices=Lifecycle.choices, default=Lifecycle.ACTIVE)
    replaced_by = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaces"
    )
    merged_into = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="merged_numbers",
        help_text=_(
            "The item that goes on under its number; this one is an old number of it. Written by a merge alone."
        ),
        db_index=False,  # `item_merged_numbers` leads to them.
    )
    note = models.TextField(blank=True)

    objects = ItemQuerySet.as_manager()

    class Meta:
        ordering = ["stock_number"]
        indexes = [
            TextIndex(
                fields=["stock_number", "description", "maker", "maker_part_number"],
                name="item_text",
                keeps_words=True,
            ),
            models.Index(NormalForm("stock_number"), name="item_normal_number"),
            # Without the rows that have none: where most have none, SQLite would read them all rather than this index.
            models.Index(
                NormalForm("maker_part_number"),
                name="item_normal_maker_number",
                condition=Q(maker_part_number__gt=""),
            ),
            # A shortlist counts the items of each specification without reading them; a list by bore walks them in the order of their ids.
            models.Index(fields=["specification", "id", "merged_into"], name="item_numbers_of_part"),
            # Without the rows that have none, as above.
            models.Index(
                fields=["merged_into"], name="item_merged_numbers", condition=Q(merged_into__isnull=False)
            ),
            *orders("item", "description unit_cost lead_time_days updated_at"),
            *filters("item", "unit stocked holding_reason lifecycle", words="maker maker_part_number"),
        ]
        constraints = [
            check("item_stock_number_given", ~Q(stock_number=""), _("stock_number must not be empty.")),
            not_negative("item", "unit_cost"),
            one_of("item", "unit", Unit, optional=False),
            one_of("item", "holding_reason", HoldingReason, optional=False),
            one_of("item", "lifecycle", Lifecycle, optional=False),
            check(
                "item_not_replaced_by_itself",
                Q(replaced_by__isnull=True) | ~Q(replaced_by=F("id")),
                _("replaced_by must name another item."),
            ),
            check(
                "item_merged_is_blocked",
                Q(merged_into__isnull=True) | Q(lifecycle=Lifecycle.BLOCKED) & ~Q(merged_into=F("id")),
                _("This number is merged into another one and stays blocked: undo the merge first."),
            ),
            within("item", "lead_time_days", 1, 3650),
        ]

    def __str__(self) -> str:
        return self.stock_number

    def clean(self) -> None:
        self._refuse_another_unit()
        self._refuse_a_circle()

    def _refuse_another_unit(self) -> None:
        """The unit cannot change once the item has movements."""
        before = Item.objects.filter(pk=self.pk, entries__isnull=False).exclude(unit=self.unit)
        if self.pk and before.exists():
            raise ValidationError({"unit": invalid("unit_of_item_with_movements")})

    def _refuse_a_circle(self) -> None:
        follower, seen = self.replaced_by, {self.pk}
        while self.pk and follower is not None:
            if follower.pk in seen:
                circle = invalid(
                    "successor_replaced_by_this_item", successor=str(self.replaced_by), item=str(self)
                )
                raise ValidationError({"replaced_by": circle})
            seen.add(follower.pk)
            follower = follower.replaced_by

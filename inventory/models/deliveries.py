"""Deliveries that were checked against their supply order. Written by `inventory.stores.deliveries` alone."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import (
    GREATEST_QUANTITY,
    Stamped,
    at_most,
    check,
    filters,
    one_of,
    orders,
    unique,
)
from inventory.models.item import Item
from inventory.models.places import Storeroom
from inventory.models.stock import StockEntry
from inventory.models.supply import SupplyOrder
from inventory.models.text_index import TextIndex


class DeliveryOutcome(models.TextChoices):
    PASSES = "passes", _("passes")
    SOMETHING_ELSE = "something_else", _("something else")
    DOUBTFUL = "doubtful", _("doubtful")


class DeliveryCheck(Stamped):
    """One delivery for an order line: what was ordered, what was read on it, the verdict, and where its pieces are.

    Held pieces lie on hold, received ones count for the order, those sent back have left the books.
    """

    order = models.ForeignKey(SupplyOrder, on_delete=models.PROTECT, related_name="checks")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="delivery_checks")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="delivery_checks")
    reference = models.CharField(
        max_length=80,
        blank=True,
        help_text=_("The sender's number of this delivery; a repeated number is recorded once."),
    )
    quantity = models.PositiveIntegerField()
    held_quantity = models.PositiveIntegerField(default=0)
    received_quantity = models.PositiveIntegerField(default=0)
    sent_back_quantity = models.PositiveIntegerField(default=0)
    outcome = models.CharField(max_length=20, choices=DeliveryOutcome.choices)
    ordered = models.JSONField(
        default=dict,
        blank=True,
        help_text=_("Teeth and bore as ordered; empty: the item has none on record."),
    )
    delivered = models.JSONField(default=dict, blank=True, help_text=_("What was counted and measured."))
    wrong = models.CharField(
        max_length=200,
        blank=True,
        help_text=_("What else is wrong with it, in the words of whoever checked it."),
    )
    could_be = models.JSONField(default=list, blank=True, help_text=_("Chains of the rims that it may be."))
    reasons = models.JSONField(default=list, blank=True, help_text=_("Codes and values of the verdict."))
    checked_at = models.DateTimeField()
    checked_by_name = models.CharField(max_length=150)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by_name = models.CharField(max_length=150, blank=True)
    settled_reason = models.CharField(max_length=200, blank=True)
    # No constraint: the ledger is a table of partitions, and a trigger of the migration stands for it.
    movements = models.ManyToManyField(
        StockEntry, related_name="delivery_checks", blank=True, db_constraint=False
    )

    class Meta:
        ordering = ["-id"]
        indexes = [
            *orders("delivery_check", "checked_at quantity settled_at"),
            *filters("delivery_check", "outcome"),
            models.Index(fields=["storeroom"], condition=Q(held_quantity__gt=0), name="delivery_check_held"),
            TextIndex(fields=["reference", "wrong"], name="delivery_check_text"),
        ]
        constraints = [
            unique(
                "delivery_check_recorded_once",
                ["reference"],
                _("A delivery of that reference is recorded already."),
                condition=~Q(reference=""),
            ),
            check("delivery_check_quantity_positive", Q(quantity__gte=1), _("quantity must be 1 or more.")),
            at_most("delivery_check", "quantity", GREATEST_QUANTITY),
            check(
                "delivery_check_adds_up",
                Q(quantity=F("held_quantity") + F("received_quantity") + F("sent_back_quantity")),
                _("Held, received and sent back must add up to the quantity."),
            ),
            check(
                "delivery_that_passes_is_not_held",
                ~Q(outcome="passes") | Q(held_quantity=0),
                _("What passes is not held."),
            ),
            one_of("delivery_check", "outcome", DeliveryOutcome, optional=False),
        ]

    def __str__(self) -> str:
        return f"{self.order}: {self.quantity} ×, {self.get_outcome_display()}"

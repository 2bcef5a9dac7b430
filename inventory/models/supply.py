"""Orders to suppliers and their lead times. Written by `inventory.stores.supply_orders` alone."""

from datetime import datetime

from django.db import models
from django.db.models import F, Q, Sum
from django.db.models.functions import Greatest
from django.utils.translation import gettext_lazy as _

from inventory.models.fields import (
    GREATEST_QUANTITY,
    Stamped,
    at_most,
    check,
    currency,
    filters,
    money,
    not_negative,
    one_of,
    orders,
    unique,
)
from inventory.models.item import Item
from inventory.models.places import Storeroom
from inventory.models.text_index import TextIndex


class SupplyStatus(models.TextChoices):
    OPEN = "open", _("open")
    RECEIVED = "received", _("received")
    CANCELLED = "cancelled", _("cancelled")


class SupplyOrderQuerySet(models.QuerySet["SupplyOrder"]):
    def open(self) -> "SupplyOrderQuerySet":
        return self.filter(status=SupplyStatus.OPEN)

    def received_regularly(self, until: datetime) -> "SupplyOrderQuerySet":
        """Received orders that were not emergencies, for the usual lead time."""
        return self.filter(received_at__isnull=False, received_at__lte=until, emergency=False).exclude(
            status=SupplyStatus.CANCELLED
        )

    def emergencies(self, until: datetime) -> "SupplyOrderQuerySet":
        return self.filter(received_at__isnull=False, received_at__lte=until, emergency=True)

    def on_order(self) -> dict[tuple[int, int], int]:
        """Outstanding pieces by item and storeroom; one query."""
        rows = self.open().order_by().values_list("item_id", "storeroom_id")
        outstanding = Greatest(F("quantity") - F("received_quantity"), 0)
        return {(item, room): pieces for item, room, pieces in rows.annotate(due=Sum(outstanding))}


class SupplyOrder(Stamped):
    """One order line of purchasing, identified by its source and its number there."""

    source = models.CharField(max_length=40)
    external_id = models.CharField(max_length=60)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="supply_orders")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="supply_orders")
    supplier = models.CharField(max_length=80, blank=True, help_text=_("Name or number; empty: not known."))
    quantity = models.PositiveIntegerField()
    received_quantity = models.PositiveIntegerField(default=0)
    ordered_at = models.DateTimeField()
    promised_on = models.DateField(null=True, blank=True)
    received_at = models.DateTimeField(
        null=True, blank=True, help_text=_("When the last piece was on the shelf.")
    )
    emergency = models.BooleanField(default=False)
    unit_price = money()
    currency = currency()
    status = models.CharField(max_length=10, choices=SupplyStatus.choices, default=SupplyStatus.OPEN)
    source_updated_at = models.DateTimeField(
        null=True, blank=True, help_text=_("The sender's version: an older message changes nothing.")
    )

    objects = SupplyOrderQuerySet.as_manager()

    class Meta:
        ordering = ["-ordered_at", "-id"]
        indexes = [
            models.Index(fields=["item", "storeroom", "status"], name="supply_order_of_item"),
            models.Index(fields=["item", "received_at"], name="supply_order_lead_time"),
            *orders("supply_order", "ordered_at received_at promised_on quantity source_updated_at"),
            *filters("supply_order", "", words="supplier"),
            TextIndex(fields=["external_id", "supplier"], name="supply_order_text"),
        ]
        constraints = [
            unique(
                "supply_order_known_once",
                ["source", "external_id"],
                _("This source already has an order of that number."),
            ),
            check(
                "supply_order_named",
                ~Q(source="") & ~Q(external_id=""),
                _("source and external_id must not be empty."),
            ),
            check("supply_order_quantity_positive", Q(quantity__gte=1), _("quantity must be 1 or more.")),
            at_most("supply_order", "quantity", GREATEST_QUANTITY),
            at_most("supply_order", "received_quantity", GREATEST_QUANTITY),
            not_negative("supply_order", "unit_price"),
            one_of("supply_order", "status", SupplyStatus, optional=False),
            check(
                "supply_order_received_not_before_ordered",
                Q(received_at__isnull=True) | Q(received_at__gte=F("ordered_at")),
                _("received_at must not be before ordered_at."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.source} {self.external_id}"

    @property
    def outstanding(self) -> int:
        """Outstanding pieces; 0 for a closed order."""
        return max(self.quantity - self.received_quantity, 0) if self.status == SupplyStatus.OPEN else 0

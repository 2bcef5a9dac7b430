"""Requests for parts and their results: demand is what was requested, not what was issued."""

from datetime import datetime

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from drives.models.drive import Position
from inventory.models import Item, Storeroom
from inventory.models.fields import (
    GREATEST_QUANTITY,
    Stamped,
    at_most,
    check,
    one_of,
    optional_link,
    orders,
    unique,
)
from inventory.models.text_index import TextIndex


class RequestResult(models.TextChoices):
    FILLED = "filled", _("filled")
    FILLED_BY_SUBSTITUTE = "filled_by_substitute", _("filled by a substitute")
    PARTLY = "partly", _("partly filled")
    NOT_FILLED = "not_filled", _("not filled")
    NOT_STOCKED = "not_stocked", _("not stocked")


class RequestQuerySet(models.QuerySet["Request"]):
    def standing(self) -> "RequestQuerySet":
        return self.filter(retracted_at__isnull=True)

    def until(self, moment: datetime) -> "RequestQuerySet":
        return self.filter(at__lte=moment)


class Request(Stamped):
    """One requested line; a retracted one stays but does not count."""

    reference = models.CharField(
        max_length=80, blank=True, help_text=_("The sender's number; a repeated number is recorded once.")
    )
    at = models.DateTimeField()
    item = optional_link(Item, "requests", help_text=_("The requested item."))
    position = optional_link(Position, "requests")
    storeroom = models.ForeignKey(Storeroom, on_delete=models.PROTECT, related_name="requests")
    quantity = models.PositiveIntegerField(default=1)
    result = models.CharField(max_length=20, choices=RequestResult.choices)
    issued_item = optional_link(Item, "issued_for", help_text=_("The issued item."))
    is_planned = models.BooleanField(
        null=True,
        blank=True,
        help_text=_(
            "Known in advance, so no stock is needed for it; empty: derived from how the unit ended."
        ),
    )
    work_order = models.CharField(max_length=60, blank=True)
    retracted_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    objects = RequestQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [
            models.Index(fields=["item", "at"], name="request_of_item"),
            models.Index(fields=["position", "at"], name="request_of_position"),
            models.Index(fields=["work_order"], name="request_work_order"),
            models.Index(fields=["updated_at"], name="request_changed"),
            *orders("request", "at quantity", known_only="retracted_at"),
            TextIndex(fields=["reference", "work_order", "note"], name="request_text"),
        ]
        constraints = [
            unique(
                "request_known_once",
                ["reference"],
                _("A request of that reference is recorded already."),
                ~Q(reference=""),
            ),
            check(
                "request_says_for_what",
                Q(item__isnull=False) | Q(position__isnull=False),
                _("Give an item, a position or both."),
            ),
            check("request_quantity_positive", Q(quantity__gte=1), _("quantity must be 1 or more.")),
            at_most("request", "quantity", GREATEST_QUANTITY),
            one_of("request", "result", RequestResult, optional=False),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.item or self.position}, {self.at:%Y-%m-%d}"

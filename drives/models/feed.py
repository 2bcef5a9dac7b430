"""Records from the work-order system: work orders, messages, codes and meter readings."""

from typing import Any

from django.db import models, transaction
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from drives.models.drive import Position
from drives.models.history import EndedBy, Installation, Mechanism
from drives.models.plant import Equipment, Plant
from inventory.models.fields import Stamped, check, not_negative, one_of, optional_link, orders, unique
from inventory.models.text_index import TextIndex

ORDER_REFERENCE = "wo:"
"""Requests and movements of the feed have references that begin so."""


class WorkOrderKind(models.TextChoices):
    CORRECTIVE = "corrective", _("corrective")
    PREVENTIVE = "preventive", _("preventive")
    INSPECTION = "inspection", _("inspection")
    MODIFICATION = "modification", _("modification")


class WorkOrderStatus(models.TextChoices):
    OPEN = "open", _("open")
    CLOSED = "closed", _("closed")
    CANCELLED = "cancelled", _("cancelled")


class WorkOrder(Stamped):
    """A job by the newest message of its source (`source_updated_at`)."""

    source = models.CharField(max_length=40)
    external_id = models.CharField(max_length=60)
    source_updated_at = models.DateTimeField()
    title = models.CharField(max_length=200, blank=True)
    kind = models.CharField(max_length=15, choices=WorkOrderKind.choices, blank=True)
    urgency = models.CharField(max_length=20, blank=True)
    status = models.CharField(max_length=10, choices=WorkOrderStatus.choices, default=WorkOrderStatus.OPEN)
    needed_by = models.DateField(null=True, blank=True)
    position = optional_link(Position, "work_orders")
    equipment = optional_link(Equipment, "work_orders")
    opened_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    has_failure = models.BooleanField(default=False)
    mechanism = models.CharField(max_length=15, choices=Mechanism.choices, blank=True)
    cause = models.CharField(max_length=60, blank=True)
    part = models.CharField(max_length=40, blank=True)
    detected_by = models.CharField(max_length=40, blank=True)
    ended_by = models.CharField(max_length=15, choices=EndedBy.choices, blank=True)
    removed_at = models.DateTimeField(null=True, blank=True)
    running_hours = models.DecimalField(max_digits=10, decimal_places=1, null=True, blank=True)
    failure_note = models.TextField(blank=True)
    parts_needed = models.JSONField(default=list, blank=True)
    parts_used = models.JSONField(default=list, blank=True)
    attributes = models.JSONField(
        default=dict, blank=True, help_text=_("Extra data of the source, returned unchanged.")
    )
    unread_codes = models.JSONField(
        default=dict, blank=True, help_text=_("Codes that are not mapped yet, by field.")
    )
    was_ready = models.BooleanField(
        null=True,
        blank=True,
        editable=False,
        help_text=_("Whether its parts were there when that was last announced."),
    )
    ended = models.ForeignKey(
        Installation, null=True, blank=True, on_delete=models.SET_NULL, related_name="ended_for"
    )
    begun = models.ForeignKey(
        Installation, null=True, blank=True, on_delete=models.SET_NULL, related_name="begun_for"
    )

    class Meta:
        ordering = ["-source_updated_at", "-id"]
        indexes = [
            models.Index(fields=["status", "needed_by"], name="work_order_due"),
            models.Index(fields=["position", "closed_at"], name="work_order_of_position"),
            *orders("work_order", "source_updated_at opened_at closed_at needed_by"),
            TextIndex(fields=["external_id", "title", "failure_note"], name="work_order_text"),
        ]
        constraints = [
            unique(
                "work_order_known_once",
                ["source", "external_id"],
                _("This source already has a work order of that number."),
            ),
            check(
                "work_order_named",
                ~Q(source="") & ~Q(external_id=""),
                _("source and external_id must not be empty."),
            ),
            one_of("work_order", "kind", WorkOrderKind),
            one_of("work_order", "status", WorkOrderStatus, optional=False),
            one_of("work_order", "mechanism", Mechanism),
            one_of("work_order", "ended_by", EndedBy),
            not_negative("work_order", "running_hours"),
        ]

    def __str__(self) -> str:
        return f"{self.source} {self.external_id}"

    @property
    def plant(self) -> Plant | None:
        equipment = self.equipment if self.position is None else self.position.drive.equipment
        return equipment.area.plant if equipment is not None else None

    def save(self, *args: Any, **kwargs: Any) -> None:
        is_new, written = self._state.adding, kwargs.get("update_fields")
        with transaction.atomic():
            super().save(*args, **kwargs)
            if written is None or "parts_needed" in written:
                self._index_needed_parts(is_new=is_new)

    def _index_needed_parts(self, *, is_new: bool) -> None:
        lines = [part for part in self.parts_needed or () if part.get("item")]
        needed = [(str(part["item"]), int(part.get("quantity") or 1)) for part in lines]
        known = [] if is_new else list(self.needed_parts.values_list("stock_number", "quantity"))
        if needed == known:
            return
        self.needed_parts.all().delete()
        rows = (
            NeededPart(work_order=self, stock_number=number, quantity=pieces) for number, pieces in needed
        )
        NeededPart.objects.bulk_create(rows)


class NeededPart(models.Model):
    """A line of `parts_needed`, so that the jobs that share an item are found without reading all of them."""

    work_order = models.ForeignKey(WorkOrder, on_delete=models.CASCADE, related_name="needed_parts")
    stock_number = models.CharField(max_length=40)
    quantity = models.PositiveIntegerField()

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["stock_number"], name="needed_part_of_item")]

    def __str__(self) -> str:
        return f"{self.work_order}: {self.quantity} × {self.stock_number}"


class MessageOutcome(models.TextChoices):
    APPLIED = "applied", _("applied")
    UNCHANGED = "unchanged", _("nothing new")
    STALE = "stale", _("older than the record")
    WAITING = "waiting", _("waiting")
    DISCARDED = "discarded", _("discarded")


class InboundMessage(models.Model):
    """A message as received; it waits and is tried again while a record that it names is missing."""

    source = models.CharField(max_length=40)
    kind = models.CharField(
        max_length=20,
        help_text=_(
            "work_order, parts_used or meter_reading; record: one of a mapped feed that cannot be used."
        ),
    )
    external_id = models.CharField(max_length=60)
    version_at = models.DateTimeField(help_text=_("The sender's updated_at."))
    body = models.JSONField()
    body_hash = models.CharField(max_length=64)
    sent = models.JSONField(
        default=dict,
        blank=True,
        help_text=_("The record of a mapped feed, and its name for each of our fields."),
    )
    outcome = models.CharField(max_length=10, choices=MessageOutcome.choices)
    reasons = models.JSONField(default=list, blank=True)
    received_at = models.DateTimeField(auto_now_add=True)
    tries = models.PositiveIntegerField(default=1)
    tried_at = models.DateTimeField(null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by_name = models.CharField(max_length=150, blank=True)
    settled_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["id"], condition=Q(outcome="waiting"), name="message_waiting"),
            models.Index(fields=["source", "version_at"], name="message_of_day"),
            *orders("message", "version_at received_at"),
            TextIndex(fields=["external_id"], name="message_text"),
        ]
        constraints = [
            unique(
                "message_kept_once",
                ["source", "kind", "external_id", "version_at", "body_hash"],
                _("This message is stored already."),
            ),
            one_of("message", "outcome", MessageOutcome, optional=False),
        ]

    def __str__(self) -> str:
        return f"{self.source} {self.external_id}, {self.version_at:%Y-%m-%d %H:%M}"


class CodeWord(Stamped):
    """The word of this service for a code of a source; empty until somebody maps it."""

    source = models.CharField(max_length=40)
    field = models.CharField(max_length=20, help_text=_("mechanism, ended_by, kind, status or detected_by."))
    code = models.CharField(max_length=120)
    word = models.CharField(max_length=40, blank=True)
    seen = models.PositiveIntegerField(default=0)
    read_by_name = models.CharField(max_length=150, blank=True)

    class Meta:
        ordering = ["source", "field", "code"]
        constraints = [
            unique(
                "code_read_once",
                ["source", "field", "code"],
                _("This code of that source is listed already."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.source} {self.field} {self.code}"


class MeterReading(Stamped):
    """Running hours on a meter; `is_reset`: the meter was replaced or reset before this reading."""

    source = models.CharField(max_length=40)
    external_id = models.CharField(max_length=60)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="meter_readings")
    at = models.DateTimeField()
    hours = models.DecimalField(max_digits=12, decimal_places=1)
    is_reset = models.BooleanField(default=False)
    source_updated_at = models.DateTimeField()
    retracted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["position_id", "at"]
        indexes = [
            models.Index(fields=["position", "at"], name="meter_reading_of_position"),
            *orders("meter_reading", "at hours"),
        ]
        constraints = [
            unique(
                "meter_reading_known_once",
                ["source", "external_id"],
                _("This source already has a reading of that number."),
            ),
            not_negative("meter_reading", "hours"),
        ]

    def __str__(self) -> str:
        return f"{self.position}, {self.at:%Y-%m-%d}: {self.hours} h"


class Approval(models.Model):
    """Permission for a substitute to run until a day; a longer time needs another approval."""

    installation = models.ForeignKey(Installation, on_delete=models.PROTECT, related_name="approvals")
    approved_by = models.CharField(max_length=80)
    reference = models.CharField(max_length=80, blank=True)
    until_on = models.DateField()
    inspect_by = models.DateField(null=True, blank=True)
    differences = models.JSONField(default=list, blank=True)
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by_name = models.CharField(max_length=150, blank=True)

    class Meta:
        ordering = ["installation_id", "id"]
        constraints = [
            check("approval_names_its_approver", ~Q(approved_by=""), _("Give approved_by, who allowed it."))
        ]

    def __str__(self) -> str:
        return f"{self.approved_by}, {self.until_on}"

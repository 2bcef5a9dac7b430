"""Subscribers of events, and what was sent to them."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.models import Event
from inventory.models.fields import Stamped, one_of


class WebhookState(models.TextChoices):
    ACTIVE = "active", _("active")
    PAUSED = "paused", _("paused by a person")
    DISABLED = "disabled", _("disabled: deliveries failed for too long, or the endpoint is gone")


class Webhook(Stamped):
    """One subscriber. The secrets are kept encrypted; they are shown once, when they are made."""

    url = models.CharField(max_length=500)
    description = models.CharField(max_length=200, blank=True)
    types = models.JSONField(default=list, blank=True, help_text=_("Event types; empty: all."))
    secret = models.TextField(editable=False)
    previous_secret = models.TextField(blank=True, editable=False)
    previous_until = models.DateTimeField(null=True, blank=True, editable=False)
    state = models.CharField(max_length=10, choices=WebhookState.choices, default=WebhookState.ACTIVE)
    state_reason = models.CharField(max_length=200, blank=True)
    failing_since = models.DateTimeField(null=True, blank=True)
    quiet_until = models.DateTimeField(
        null=True, blank=True, help_text=_("No delivery before this time, as the endpoint requested.")
    )
    owner_user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    owner_token = models.ForeignKey(
        "api.AccessToken", null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    from_sequence = models.PositiveBigIntegerField(default=0, help_text=_("Events after this one are sent."))

    class Meta:
        ordering = ["id"]
        constraints = [one_of("webhook", "state", WebhookState, optional=False)]

    def __str__(self) -> str:
        return self.url


class DeliveryState(models.TextChoices):
    WAITING = "waiting", _("waiting")
    DELIVERED = "delivered", _("delivered")
    DEAD = "dead", _("dead: every attempt failed")


class Delivery(models.Model):
    """One event for one subscriber."""

    webhook = models.ForeignKey(Webhook, on_delete=models.CASCADE, related_name="deliveries")
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="deliveries")
    state = models.CharField(max_length=10, choices=DeliveryState.choices, default=DeliveryState.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    next_attempt_at = models.DateTimeField(default=timezone.now)
    claimed_until = models.DateTimeField(null=True, blank=True, help_text=_("A worker is at it until then."))
    last_status = models.PositiveSmallIntegerField(null=True, blank=True)
    last_error = models.CharField(max_length=200, blank=True)
    last_attempt_at = models.DateTimeField(null=True, blank=True)
    delivered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        indexes = [
            models.Index(
                fields=["webhook", "next_attempt_at"], condition=Q(state="waiting"), name="delivery_waiting"
            )
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["webhook", "event"],
                name="event_once_per_webhook",
                violation_error_message=_("This event is on its way to that subscriber already."),
            ),
            one_of("delivery", "state", DeliveryState, optional=False),
        ]

    def __str__(self) -> str:
        return f"{self.event_id} → {self.webhook_id}"

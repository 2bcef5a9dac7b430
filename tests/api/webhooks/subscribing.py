"""What the tests of the webhooks share: a subscriber, something that happens, and a round of the deliverer."""

from datetime import UTC, datetime, timedelta
from typing import Any

from django.contrib.auth import get_user_model
from django.db import transaction
from django.db.models import F

from api.models import Delivery, Webhook
from api.webhooks.delivering import send_due
from api.webhooks.queueing import queue_events
from api.webhooks.secrets import encrypted
from inventory.models import Event
from inventory.plumbing import events
from inventory.plumbing.leases import database_now

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
SHELF = "stock/41-0105/OM-MAIN/new"
SECRET = "whsec_" + "MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"


def subscribe(url: str, **more: Any) -> Webhook:
    user, _ = get_user_model().objects.get_or_create(username="marta", defaults={"is_superuser": True})
    return Webhook.objects.create(**{"url": url, "secret": encrypted(SECRET), "owner_user": user} | more)


def happen(aggregate: str = SHELF, type: str = "stock.moved", **more: Any) -> Event:
    with transaction.atomic():
        values = {"data": {"change": -1}, "occurred_at": NOON} | more
        return events.record(type, aggregate=aggregate, **values)


def queue() -> None:
    events.sequence_events()
    queue_events()


def deliver(webhook: Webhook) -> int:
    """One round: what is due is tried once."""
    queue()
    return send_due(webhook.pk)


def pass_time(**span: float) -> None:
    """As if everything that waits had been set to an earlier time."""
    step = timedelta(**span)
    Delivery.objects.update(
        next_attempt_at=F("next_attempt_at") - step, last_attempt_at=F("last_attempt_at") - step
    )
    for row in Delivery.objects.exclude(claimed_until=None):
        Delivery.objects.filter(pk=row.pk).update(claimed_until=row.claimed_until - step)
    for row in Webhook.objects.all():
        quiet = row.quiet_until and row.quiet_until - step
        failing = row.failing_since and row.failing_since - step
        Webhook.objects.filter(pk=row.pk).update(quiet_until=quiet, failing_since=failing)


def wait_of(delivery: Delivery) -> float:
    """Seconds until its next attempt."""
    return (delivery.next_attempt_at - database_now()).total_seconds()

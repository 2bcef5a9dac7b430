"""Queue events for delivery, separately for each webhook."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db import connection, transaction
from django.db.models import Q, QuerySet

from api.models import Delivery, DeliveryState, Webhook, WebhookState
from api.webhooks.owners import readable
from api.wire.event_types import TEST
from inventory.models import Event
from inventory.plumbing import events
from inventory.plumbing.leases import database_now

BATCH = 500


def queue_events() -> int:
    """Queue new events for every active webhook that subscribed to them; returns how many."""
    active = Webhook.objects.filter(state=WebhookState.ACTIVE).order_by("pk").values_list("pk", flat=True)
    return sum(queue_for(key) for key in list(active))


def queue_for(key: int) -> int:
    total = 0
    while True:
        more, queued = queue_batch(key)
        total += queued
        if not more:
            return total


@transaction.atomic
def queue_batch(key: int) -> tuple[bool, int]:
    """Whether there were new events, and how many of them were queued."""
    webhook = locked(Webhook.objects.filter(pk=key, state=WebhookState.ACTIVE)).first()
    if webhook is None:
        return False, 0
    newer = Event.objects.filter(sequence__gt=webhook.from_sequence).order_by("sequence")[:BATCH]
    numbers = list(newer.values_list("sequence", flat=True))
    if not numbers:
        return False, 0
    span = Event.objects.filter(sequence__gt=webhook.from_sequence, sequence__lte=numbers[-1])
    queued = queue(webhook, subscribed(webhook, span), database_now())
    Webhook.objects.filter(pk=key).update(from_sequence=numbers[-1])
    return True, queued


def locked(rows: QuerySet[Any]) -> QuerySet[Any]:
    """Lock the rows and skip those that are locked already. SQLite has one write lock for everything."""
    if connection.features.has_select_for_update_skip_locked:
        return rows.select_for_update(skip_locked=True, of=("self",))
    return rows


def subscribed(webhook: Webhook, span: QuerySet[Event]) -> QuerySet[Event]:
    """Events that it subscribed to and its owner may read. A test event goes only to the webhook that is tested."""
    span = span.filter(~Q(type=TEST) | Q(aggregate=f"webhook/{webhook.pk}"))
    if webhook.types:
        span = span.filter(Q(type__in=webhook.types) | Q(type=TEST))
    return readable(webhook, span).order_by("sequence")


def queue(webhook: Webhook, found: Iterable[Event], now: datetime) -> int:
    rows = [Delivery(webhook=webhook, event=event, next_attempt_at=now) for event in found]
    Delivery.objects.bulk_create(rows, ignore_conflicts=True, batch_size=BATCH)
    return len(rows)


def bring_forward(webhook: Webhook, now: datetime) -> None:
    """The endpoint takes events: what failed before is tried once more at once."""
    waiting = Delivery.objects.filter(webhook=webhook, state=DeliveryState.WAITING)
    waiting.filter(next_attempt_at__gt=now).update(next_attempt_at=now)


def replay(webhook: Webhook, deliveries: QuerySet[Delivery]) -> int:
    """Send them again with the same ids, with all attempts; whoever asks for this expects that the webhook takes events."""
    bring_forward(webhook, database_now())
    return deliveries.update(
        state=DeliveryState.WAITING,
        attempts=0,
        next_attempt_at=database_now(),
        claimed_until=None,
        delivered_at=None,
    )


@transaction.atomic
def replay_range(webhook: Webhook, *, after: int, until: int, only_dead: bool) -> int:
    """Send a range of events again, and those it never got; with `only_dead` only those of which every attempt failed."""
    span = Event.objects.filter(sequence__gt=after, sequence__lte=until)
    found = subscribed(webhook, span)
    queued = Delivery.objects.filter(webhook=webhook, event__in=found.order_by().values("pk"))
    if only_dead:
        return replay(webhook, queued.filter(state=DeliveryState.DEAD))
    known = replay(webhook, queued)
    fresh = found.exclude(pk__in=Delivery.objects.filter(webhook=webhook).values("event"))
    return known + queue(webhook, list(fresh), database_now())


@transaction.atomic
def queue_test(webhook: Webhook) -> Delivery:
    now = database_now()
    event = events.record(
        TEST, aggregate=f"webhook/{webhook.pk}", data={"webhook": webhook.pk}, occurred_at=now
    )
    return Delivery.objects.create(webhook=webhook, event=event, next_attempt_at=now)

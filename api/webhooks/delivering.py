"""Send the deliveries of one endpoint: claim, send outside any transaction, record the result.

A claim expires, so a deliverer that is killed between sending and recording sends once more: at least once, with the
same id. A later event of an aggregate waits until the earlier one is delivered or dead.
"""

import random
from collections.abc import Callable
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce

from api.models import Delivery, DeliveryState, Webhook, WebhookState
from api.webhooks.message import body_of, event_id, headers_of
from api.webhooks.owners import has_access, readable
from api.webhooks.secrets import SecretUnreadable, valid_secrets
from api.webhooks.sending import GONE, DeliveryAnswer, send
from inventory.models import Event
from inventory.plumbing import events
from inventory.plumbing.leases import database_now

# Seconds before each attempt: the example schedule of Standard Webhooks 1.0.0, about three days in all.
SCHEDULE_SECONDS = (0, 5, 300, 1_800, 7_200, 18_000, 36_000, 50_400, 72_000, 86_400)
JITTER = 0.1
AT_ONCE_PER_ENDPOINT = 2
DISABLED_AFTER = timedelta(days=5)
# A claim outlives the longest attempt with its look-ups and its record.
CLAIM_MARGIN = timedelta(seconds=60)
SETTLED = (
    "state",
    "attempts",
    "claimed_until",
    "last_status",
    "last_error",
    "next_attempt_at",
    "delivered_at",
)


def due(now: datetime) -> QuerySet[Delivery]:
    """What may be sent now: not claimed, the endpoint asked for no pause, and no earlier event of its aggregate waits."""
    earlier = Delivery.objects.filter(
        webhook=OuterRef("webhook"),
        state=DeliveryState.WAITING,
        event__aggregate=OuterRef("event__aggregate"),
        event__version__lt=OuterRef("event__version"),
    )
    return Delivery.objects.filter(
        Q(claimed_until=None) | Q(claimed_until__lte=now),
        Q(webhook__quiet_until=None) | Q(webhook__quiet_until__lte=now),
        ~Exists(earlier),
        state=DeliveryState.WAITING,
        webhook__state=WebhookState.ACTIVE,
        next_attempt_at__lte=now,
        event__sequence__isnull=False,
    )


def send_due(key: int, may_continue: Callable[[], bool] = lambda: True) -> int:
    """Send what is due to one endpoint, one after another; returns how many attempts were made."""
    attempts = 0
    while may_continue() and (delivery := claim(key)) is not None:
        record(delivery, attempt(delivery))
        attempts += 1
    return attempts


@transaction.atomic
def claim(key: int) -> Delivery | None:
    """Claim the next delivery of an endpoint, unless enough are under way already."""
    # The lock is held only while a delivery is claimed or recorded, so waiting for it is short.
    if Webhook.objects.select_for_update().filter(pk=key).first() is None:
        return None
    now = database_now()
    busy = Delivery.objects.filter(webhook=key, state=DeliveryState.WAITING, claimed_until__gt=now).count()
    if busy >= AT_ONCE_PER_ENDPOINT:
        return None
    delivery = due(now).filter(webhook=key).order_by("event__sequence").select_related("event").first()
    if delivery is None:
        return None
    delivery.webhook = Webhook.objects.select_related("owner_user", "owner_token__user").get(pk=key)
    delivery.claimed_until = now + timedelta(seconds=settings.WEBHOOK_TIMEOUT_SECONDS) + CLAIM_MARGIN
    delivery.last_attempt_at = now
    Delivery.objects.filter(pk=delivery.pk).update(claimed_until=delivery.claimed_until, last_attempt_at=now)
    return delivery


def attempt(delivery: Delivery) -> DeliveryAnswer | None:
    """The answer of the endpoint; None where the owner of the webhook may no longer read the event."""
    webhook, event = delivery.webhook, delivery.event
    if not has_access(webhook) or not readable(webhook, Event.objects.filter(pk=event.pk)).exists():
        return None
    now = database_now()
    body = body_of(event)
    try:
        secrets = valid_secrets(webhook, now)
    except SecretUnreadable as fault:
        return DeliveryAnswer(error=str(fault))
    headers = headers_of(event_id(event), body, secrets=secrets, at=now)
    return send(webhook.url, body, headers)


@transaction.atomic
def record(delivery: Delivery, answer: DeliveryAnswer | None) -> None:
    """Record the result; an answer that comes after its claim expired counts only if it is a success."""
    webhook = Webhook.objects.select_for_update().filter(pk=delivery.webhook_id).first()
    mine = Delivery.objects.filter(pk=delivery.pk)
    if answer is None or not answer.is_accepted:
        mine = mine.filter(claimed_until=delivery.claimed_until, state=DeliveryState.WAITING)
    row = mine.first()
    if webhook is None or row is None:
        return
    now = database_now()
    if answer is None:
        forbid(webhook, row)
    elif answer.is_accepted:
        accept(webhook, row, answer, now)
    else:
        refuse(webhook, row, answer, now)


def accept(webhook: Webhook, row: Delivery, answer: DeliveryAnswer, now: datetime) -> None:
    row.state, row.delivered_at = DeliveryState.DELIVERED, now
    row.last_status, row.last_error = answer.status, ""
    row.attempts, row.claimed_until = row.attempts + 1, None
    row.save(update_fields=SETTLED)
    Webhook.objects.filter(pk=webhook.pk).exclude(failing_since=None).update(failing_since=None)


def refuse(webhook: Webhook, row: Delivery, answer: DeliveryAnswer, now: datetime) -> None:
    row.attempts, row.claimed_until = row.attempts + 1, None
    row.last_status, row.last_error = answer.status, answer.error[:200]
    wait = wait_seconds(row.attempts)
    if wait is None:
        row.state = DeliveryState.DEAD
    else:
        pause = answer.pause_seconds or 0.0
        row.next_attempt_at = now + timedelta(seconds=max(wait, pause))
    row.save(update_fields=SETTLED)
    if answer.pause_seconds:
        until = now + timedelta(seconds=answer.pause_seconds)
        Webhook.objects.filter(pk=webhook.pk).update(quiet_until=until)
    Webhook.objects.filter(pk=webhook.pk).update(failing_since=Coalesce("failing_since", now))
    if answer.status == GONE:
        disable(webhook, "The endpoint answered 410 (gone): it wants no more events.", now)
    elif webhook.failing_since is not None and now - webhook.failing_since >= DISABLED_AFTER:
        disable(webhook, f"Every attempt since {webhook.failing_since:%Y-%m-%d %H:%M} UTC failed.", now)


def forbid(webhook: Webhook, row: Delivery) -> None:
    """Nothing was sent: its owner has no access any more, or may no longer read this event."""
    row.state, row.claimed_until = DeliveryState.DEAD, None
    row.last_error = "Not sent: the owner of the webhook may not read this event."
    row.save(update_fields=["state", "claimed_until", "last_error"])
    if not has_access(webhook):
        disable(webhook, "The access of its owner has ended.", database_now())


def disable(webhook: Webhook, reason: str, now: datetime) -> None:
    """Nothing is sent any more; an event says so."""
    changed = Webhook.objects.filter(pk=webhook.pk).exclude(state=WebhookState.DISABLED)
    if changed.update(state=WebhookState.DISABLED, state_reason=reason):
        data = {"webhook": webhook.pk, "reason": reason}
        events.record("webhook.disabled", aggregate=f"webhook/{webhook.pk}", data=data, occurred_at=now)


def wait_seconds(attempts: int) -> float | None:
    """How long to wait after so many attempts; None after the last one."""
    if attempts >= len(SCHEDULE_SECONDS):
        return None
    return SCHEDULE_SECONDS[attempts] * random.uniform(1 - JITTER, 1 + JITTER)

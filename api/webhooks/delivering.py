"""Send the deliveries of one endpoint: claim, send outside any transaction, record the result.

A claim expires, so a deliverer that is killed between sending and recording sends once more: at least once, with the
same id. A later event of an aggregate waits until the earlier one is delivered or dead.

A success of an endpoint that failed brings forward what waits for its next attempt there: after a failure nobody waits for the rest of
the schedule. Such an early attempt leaves the schedule as it is, so that an event that is refused for its own sake still has all of it.
"""

import random
import time
from collections.abc import Callable
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce

from api.models import Delivery, DeliveryState, Webhook, WebhookState
from api.webhooks.message import body_of, event_id, headers_of
from api.webhooks.owners import has_access, readable
from api.webhooks.queueing import bring_forward
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
# So many are looked up at once, as a look at a long queue costs more than a delivery; a slow endpoint is looked at again sooner.
LOOKED_UP = 100
LOOKS_AGAIN_AFTER_SECONDS = 5.0
SETTLED = (
    "state",
    "attempts",
    "claimed_until",
    "last_status",
    "last_error",
    "last_attempt_at",
    "next_attempt_at",
    "delivered_at",
)


def due(webhook: Webhook, now: datetime) -> QuerySet[Delivery]:
    """What may be sent one after another: of its aggregate nothing is under way or has to wait."""
    waiting = Delivery.objects.filter(webhook=webhook, state=DeliveryState.WAITING)
    held = waiting.filter(Q(claimed_until__gt=now) | Q(next_attempt_at__gt=now))
    # Not correlated, so that it is asked once and not for each that waits.
    return ready(webhook, now).exclude(event__aggregate__in=held.values("event__aggregate"))


def oldest(webhook: Webhook, now: datetime) -> list[int]:
    # Ordered by an expression: by the number itself PostgreSQL would read every event that was ever sent to find the first that waits.
    found = due(webhook, now).order_by(F("event__sequence") + 0)
    return list(found.values_list("pk", flat=True)[:LOOKED_UP])


def ready(webhook: Webhook, now: datetime) -> QuerySet[Delivery]:
    """What is not claimed and whose time has come, whatever waits before it; nothing while the endpoint wants a pause."""
    is_quiet = webhook.quiet_until is not None and webhook.quiet_until > now
    if webhook.state != WebhookState.ACTIVE or is_quiet:
        return Delivery.objects.none()
    return Delivery.objects.filter(
        Q(claimed_until=None) | Q(claimed_until__lte=now),
        webhook=webhook,
        state=DeliveryState.WAITING,
        next_attempt_at__lte=now,
        event__sequence__isnull=False,
    )


def earlier(webhook: Webhook) -> QuerySet[Delivery]:
    return Delivery.objects.filter(
        webhook=webhook,
        state=DeliveryState.WAITING,
        event__aggregate=OuterRef("event__aggregate"),
        event__version__lt=OuterRef("event__version"),
    )


def send_due(key: int, may_continue: Callable[[], bool] = lambda: True) -> int:
    """Send what is due to one endpoint, one after another; returns how many attempts were made."""
    attempts = 0
    while made := send_oldest(key, may_continue):
        attempts += made
    return attempts


def send_oldest(key: int, may_continue: Callable[[], bool]) -> int:
    """Send the oldest that are due; each is claimed when its turn comes."""
    webhook = Webhook.objects.filter(pk=key).first()
    if webhook is None or not may_continue():
        return 0
    made, looked_at = 0, time.monotonic()
    for pk in oldest(webhook, database_now()):
        if (delivery := claim(key, pk)) is not None:
            record(delivery, attempt(delivery))
            made += 1
        if not may_continue() or time.monotonic() - looked_at > LOOKS_AGAIN_AFTER_SECONDS:
            break
    return made


@transaction.atomic
def claim(key: int, pk: int) -> Delivery | None:
    """Claim a delivery to an endpoint, unless it may not be sent any more or enough are under way already."""
    # The lock is held only while a delivery is claimed or recorded, so waiting for it is short.
    rows = Webhook.objects.select_for_update(of=("self",))
    webhook = rows.select_related("owner_user", "owner_token__user").filter(pk=key).first()
    if webhook is None:
        return None
    now = database_now()
    busy = Delivery.objects.filter(webhook=key, state=DeliveryState.WAITING, claimed_until__gt=now).count()
    if busy >= AT_ONCE_PER_ENDPOINT:
        return None
    first = ready(webhook, now).filter(~Exists(earlier(webhook)), pk=pk)
    delivery = first.select_related("event").first()
    if delivery is None:
        return None
    delivery.webhook = webhook
    delivery.claimed_until = now + timedelta(seconds=settings.WEBHOOK_TIMEOUT_SECONDS) + CLAIM_MARGIN
    Delivery.objects.filter(pk=pk).update(claimed_until=delivery.claimed_until)
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
    row.last_status, row.last_error, row.last_attempt_at = answer.status, "", now
    row.attempts, row.claimed_until = row.attempts + 1, None
    row.save(update_fields=SETTLED)
    if webhook.failing_since is not None:
        Webhook.objects.filter(pk=webhook.pk).update(failing_since=None)
        bring_forward(webhook, now)


def refuse(webhook: Webhook, row: Delivery, answer: DeliveryAnswer, now: datetime) -> None:
    row.claimed_until = None
    row.last_status, row.last_error = answer.status, answer.error[:200]
    if not was_brought_forward(row):
        row.attempts, row.last_attempt_at = row.attempts + 1, now
        Webhook.objects.filter(pk=webhook.pk).update(failing_since=Coalesce("failing_since", now))
    wait = wait_seconds(row.attempts)
    if wait is None:
        row.state = DeliveryState.DEAD
    else:
        pause = timedelta(seconds=answer.pause_seconds or 0.0)
        scheduled = (row.last_attempt_at or now) + timedelta(seconds=wait)
        row.next_attempt_at = max(scheduled, now + pause)
    row.save(update_fields=SETTLED)
    if answer.pause_seconds:
        until = now + timedelta(seconds=answer.pause_seconds)
        Webhook.objects.filter(pk=webhook.pk).update(quiet_until=until)
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


def was_brought_forward(row: Delivery) -> bool:
    """Whether an attempt that is not recorded yet was made before the schedule had one."""
    shortest = timedelta(seconds=SCHEDULE_SECONDS[row.attempts] * (1 - JITTER))
    return row.last_attempt_at is not None and row.next_attempt_at < row.last_attempt_at + shortest

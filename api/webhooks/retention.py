"""How long events are kept."""

from datetime import datetime

from django.db import transaction
from django.db.models import Exists, OuterRef

from api.models import Delivery, DeliveryState
from inventory.models import Event

BATCH = 1_000


def purge_events(before: datetime) -> int:
    """Delete older events, save the newest of each aggregate and those that still wait for a webhook."""
    total = 0
    while deleted := purge_batch(before):
        total += deleted
    return total


@transaction.atomic
def purge_batch(before: datetime) -> int:
    later = Event.objects.filter(
        aggregate=OuterRef("aggregate"), version__gt=OuterRef("version"), sequence__isnull=False
    )
    waiting = Delivery.objects.filter(event=OuterRef("pk"), state=DeliveryState.WAITING)
    old = Event.objects.filter(
        Exists(later), ~Exists(waiting), recorded_at__lt=before, sequence__isnull=False
    )
    keys = list(old.order_by("sequence").values_list("pk", flat=True)[:BATCH])
    Delivery.objects.filter(event__in=keys).delete()
    return Event.objects.filter(pk__in=keys).delete()[0]

"""Deliveries as they are recorded and settled, by the API and by the pages, with what the change log keeps of it."""

from django.db import transaction
from django.db.models import QuerySet

from api.edge.change_log import log_creation, logging_changes
from api.wording.sentences import sentences
from inventory.models import DeliveryCheck, SupplyOrder
from inventory.stores import deliveries
from inventory.stores.deliveries import IncomingDelivery, Recorded
from inventory.stores.ledger.movement import Who

RELEASE, SEND_BACK, UNDO = "release", "send_back", "undo"


def record_delivery(delivery: IncomingDelivery) -> Recorded:
    with transaction.atomic(), logging_changes(_order(delivery.order.pk)):
        recorded = deliveries.record_delivery(delivery, in_words=sentences)
        if not recorded.is_known:
            log_creation(recorded.check)
    return recorded


def settle(check: DeliveryCheck, act: str, quantity: int, *, reason: str, by: Who) -> None:
    """Release, send back or undo; an undo is of all pieces."""
    own = DeliveryCheck.objects.filter(pk=check.pk)
    with transaction.atomic(), logging_changes(own), logging_changes(_order(check.order_id)):
        if act == RELEASE:
            deliveries.release(check, quantity, reason=reason, by=by)
        elif act == SEND_BACK:
            deliveries.send_back(check, quantity, reason=reason, by=by)
        else:
            deliveries.undo(check, reason=reason, by=by)


def _order(key: int) -> QuerySet[SupplyOrder]:
    return SupplyOrder.objects.filter(pk=key)

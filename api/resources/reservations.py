"""Reservations: what is held back on the shelf for a work order."""

from typing import Any

from api.edge.concurrency import EtagCreateMixin
from api.edge.parsing import StrictCharField, UtcDateTimeField
from api.resources.booking import LineSerializer, caller_of
from api.resources.remedies import ledger_refusals
from api.wire.records.reservations import RESERVATIONS
from api.wire.references import reference_to
from api.wire.serializers import EmptyBodySerializer, serializer_of
from api.wire.views import ReadRecordViewSet, post_action
from inventory.models import Reservation, Storeroom
from inventory.stores import ledger

ReservationSerializer = serializer_of(RESERVATIONS)


class ReservationRequestSerializer(LineSerializer):
    """What to hold back. Without `expires_at` it is held until it is used or released."""

    storeroom = reference_to(Storeroom)
    work_order = StrictCharField(max_length=60)
    expires_at = UtcDateTimeField(required=False, allow_null=True)


class ReservationViewSet(EtagCreateMixin, ReadRecordViewSet):
    """Parts promised to a work order; an issue with the same work order uses its reservation up."""

    record = RESERVATIONS
    write_serializer_class = ReservationRequestSerializer
    requires_idempotency_key = True

    def perform_create(self, serializer: Any) -> Reservation:
        with ledger_refusals(self.request):
            return ledger.reserve(**serializer.validated_data, by=caller_of(self.request))

    @post_action(EmptyBodySerializer, ReservationSerializer, needs_key=True)
    def release(self, reservation: Reservation, values: dict[str, Any]) -> None:
        """End the reservation and free what it still holds."""
        with ledger_refusals(self.request):
            ledger.release(reservation)

"""Reservations: what is held back on the shelf for a work order."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request

from api.edge.concurrency import EtagCreateMixin, etag_response
from api.edge.filtering import Range, StrictFilterSet, TruthFilter, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.parsing import (
    StrictCharField,
    StrictChoiceField,
    StrictIntegerField,
    StrictModelSerializer,
    UtcDateTimeField,
)
from api.edge.record_views import STOCK_ROLES
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.resources.booking import caller_of
from api.resources.remedies import ledger_refusals
from api.wire.fields import OptionalTextField
from api.wire.references import reference_to
from api.wire.serializers import ActSerializer
from inventory.models import AVAILABLE_CONDITIONS, Condition, Item, Reservation, ReservationState, Storeroom
from inventory.models.fields import GREATEST_QUANTITY
from inventory.stores import ledger


class ReservationSerializer(StrictModelSerializer):
    """What is held back; `open_quantity` is what the shelf still keeps for the work order.

    `short_quantity` was taken from it for urgent work: it is still needed, and held no longer.
    """

    item = StrictCharField(source="item.stock_number", read_only=True)
    storeroom = StrictCharField(source="storeroom.code", read_only=True)
    kit = serializers.IntegerField(source="kit_id", read_only=True, allow_null=True)
    taken_by = OptionalTextField(read_only=True)
    taken_reason = OptionalTextField(read_only=True)
    reserved_by = StrictCharField(source="reserved_by_name", read_only=True)

    class Meta:
        model = Reservation
        fields = [
            "id",
            "item",
            "storeroom",
            "condition",
            "quantity",
            "open_quantity",
            "work_order",
            "state",
            "expires_at",
            "kit",
            "short_quantity",
            "taken_by",
            "taken_reason",
            "reserved_by",
            "created_at",
            "updated_at",
        ]
        read_only_fields = fields


class ReservationRequestSerializer(ActSerializer):
    """What to hold back. Without `expires_at` it is held until it is used or released."""

    item = reference_to(Item)
    storeroom = reference_to(Storeroom)
    condition = StrictChoiceField(
        choices=[word.value for word in AVAILABLE_CONDITIONS], default=Condition.NEW.value
    )
    quantity = StrictIntegerField(min_value=1, max_value=GREATEST_QUANTITY)
    work_order = StrictCharField(max_length=60)
    expires_at = UtcDateTimeField(required=False, allow_null=True)


class ReleaseSerializer(ActSerializer):
    """Nothing needs to be said."""


class ReservationFilter(StrictFilterSet):
    numbers = {
        "quantity": Range(0, GREATEST_QUANTITY, whole=True),
        "open_quantity": Range(0, GREATEST_QUANTITY, whole=True),
    }
    moments = {"expires_at": "", "created_at": ""}
    search_fields = ["item__stock_number", "item__description", "work_order", "reserved_by_name"]
    item = WordsFilter("item__stock_number")
    storeroom = WordsFilter("storeroom__code")
    condition = WordsFilter(choices=Condition.values)
    work_order = WordsFilter()
    state = WordsFilter(choices=ReservationState.values)
    short = TruthFilter(method="filter_short", help_text="Something was taken from it.")

    def filter_short(self, queryset: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        return queryset.filter(short_quantity__gt=0) if value else queryset.filter(short_quantity=0)


class ReservationViewSet(EtagCreateMixin, ReadOnlyResourceViewSet):
    """Parts promised to a work order; an issue with the same work order uses its reservation up."""

    queryset: QuerySet[Any] = Reservation.objects.with_places()
    serializer_class = ReservationSerializer
    write_serializer_class = ReservationRequestSerializer
    filterset_class = ReservationFilter
    ordering_fields = ["id", "expires_at", "created_at", "work_order"]
    ordering = "-id"
    requires_idempotency_key = True
    write_roles: ClassVar[Collection[str] | None] = STOCK_ROLES

    def perform_create(self, serializer: Any) -> Reservation:
        with ledger_refusals(self.request):
            return ledger.reserve(**serializer.validated_data, by=caller_of(self.request)).reservation

    @extend_schema(request=ReleaseSerializer, responses=ReservationSerializer)
    @action(detail=True, methods=["post"])
    @idempotent(required=True)
    def release(self, request: Request, pk: str) -> HttpResponseBase:
        """End the reservation and free what it still holds."""
        ReleaseSerializer(data=request.data).is_valid(raise_exception=True)
        reservation = self.get_object()
        with ledger_refusals(request):
            ledger.release(reservation)
        return etag_response(request, self.represent(self.fresh(reservation)))

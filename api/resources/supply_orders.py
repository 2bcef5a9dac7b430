"""Supply orders: what is on order, and how long it really took from order to shelf."""

from django.db import transaction
from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request

from api.edge.change_log import logging_changes
from api.edge.errors import TAKEN_OUT_OF_REACH, Conflict
from api.edge.parsing import StrictBooleanField, StrictIntegerField, UtcDateTimeField
from api.edge.scope import is_hidden
from api.wire.records.supply_orders import SUPPLY_ORDERS
from api.wire.serializers import ActSerializer
from api.wire.views import SourceKeyViewSet
from inventory.models import SupplyOrder
from inventory.models.fields import GREATEST_QUANTITY
from inventory.stores import supply_orders as supply


class SupplyOrderSerializer(ActSerializer):
    """An order line of the plant's purchasing; `updated_at` is the sender's, and tells a new message from an old one."""

    record = SUPPLY_ORDERS
    received = StrictIntegerField(
        source="received_quantity", min_value=0, max_value=GREATEST_QUANTITY, required=False
    )
    received_at = UtcDateTimeField(
        required=False, allow_null=True, help_text="When the last piece so far was on the shelf."
    )
    updated_at = UtcDateTimeField(source="source_updated_at")
    outstanding = StrictIntegerField(read_only=True, help_text="Pieces still to come.")


class UpsertedSerializer(SupplyOrderSerializer):
    """The order as it stands after the message, and whether the message is what made it so."""

    applied = StrictBooleanField(
        read_only=True, help_text="False: what is recorded is as new, and nothing changed."
    )


class SupplyOrderViewSet(SourceKeyViewSet):
    """Orders as purchasing sends them. Messages may be repeated and arrive in any order."""

    record = SUPPLY_ORDERS

    @extend_schema(
        request=SupplyOrderSerializer, responses={200: UpsertedSerializer, 201: UpsertedSerializer}
    )
    def upsert(self, request: Request, source: str, external_id: str) -> HttpResponseBase:
        """Create the order or bring it up to date; an older message changes nothing. Needs no If-Match."""
        standing = self.get_queryset().filter(**self.kwargs).first()
        serializer = self.get_serializer(standing, data=request.data)
        serializer.is_valid(raise_exception=True)
        # After the body, which is refused in the same way whether there is such an order or not.
        if is_hidden(SupplyOrder.objects.filter(**self.kwargs)):
            raise Conflict(TAKEN_OUT_OF_REACH)
        with transaction.atomic(), logging_changes(SupplyOrder.objects.filter(**self.kwargs)):
            taken = supply.upsert(SupplyOrder(**self.kwargs, **serializer.validated_data))
        return self.upserted(taken.order, created=taken.created, applied=taken.applied)

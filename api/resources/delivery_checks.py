"""Delivery checks: a delivery is judged against its order, received or put on hold, and settled later."""

from typing import Any

from django.db.models import Prefetch
from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request

from api.answers.receiving import DeliveredSerializer, readings_of
from api.edge.change_log import log_creation, logging_changes
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictCharField, StrictIntegerField, UtcDateTimeField
from api.edge.scope import visible_to_caller
from api.resources.booking import caller_of
from api.resources.remedies import ledger_refusals
from api.wire.facts import FactSerializer
from api.wire.fields import OptionalTextField
from api.wire.records.delivery_checks import DELIVERY_CHECKS
from api.wire.serializers import BodySerializer, MemberErrors, ReadSerializer
from api.wire.views import ReadRecordViewSet, post_action
from api.wording.sentences import sentences
from inventory.facts import fact
from inventory.models import DeliveryCheck, StockEntry, SupplyOrder
from inventory.models.fields import GREATEST_QUANTITY
from inventory.stores import deliveries
from inventory.stores.deliveries import LONGEST_REASON, LONGEST_REFERENCE, Delivery


class DeliveryCheckSerializer(ReadSerializer):
    record = DELIVERY_CHECKS
    reasons = FactSerializer(many=True, read_only=True)
    ordered = serializers.DictField(read_only=True, help_text="Empty: the item has no teeth on record.")
    delivered = serializers.DictField(
        child=serializers.FloatField(), read_only=True, help_text="Counts, and lengths in mm."
    )
    could_be = serializers.ListField(
        child=serializers.CharField(), read_only=True, help_text="Chains of the rims that all readings allow."
    )
    movements = serializers.PrimaryKeyRelatedField(many=True, read_only=True)


class DeliveryRequestSerializer(BodySerializer):
    """What came for the order line. Without teeth on record, or where it is plainly another thing, `wrong` says so in words."""

    source = StrictCharField(max_length=40)
    external_id = StrictCharField(max_length=60)
    quantity = StrictIntegerField(min_value=1, max_value=GREATEST_QUANTITY)
    delivered = DeliveredSerializer(required=False, allow_null=True)
    wrong = OptionalTextField(max_length=LONGEST_REASON, help_text="What is wrong with it beside its sizes.")
    reference = OptionalTextField(max_length=LONGEST_REFERENCE)
    checked_at = UtcDateTimeField(required=False, allow_null=True)

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        key = {name: values.get(name) for name in ("source", "external_id")}
        if None in key.values():
            return {}
        values["order"] = visible_to_caller(SupplyOrder.objects.all()).filter(**key).first()
        if values["order"] is None:
            name = "{source} {external_id}".format(**key)
            return {"external_id": [fact("no_such_record", kind="supply order", name=name)]}
        return {}


class SettlementSerializer(BodySerializer):
    """How many of the held pieces, and why."""

    quantity = StrictIntegerField(min_value=1, max_value=GREATEST_QUANTITY)
    reason = StrictCharField(max_length=LONGEST_REASON)


class DeliveryCheckViewSet(ReadRecordViewSet):
    """Deliveries against their orders. What passes is received; everything else goes on hold, and the order stays open."""

    record = DELIVERY_CHECKS
    queryset = DeliveryCheck.objects.select_related("order", "item", "storeroom").prefetch_related(
        Prefetch("movements", StockEntry.objects.order_by("pk"))
    )
    write_serializer_class = DeliveryRequestSerializer

    @extend_schema(responses={200: DeliveryCheckSerializer, 201: DeliveryCheckSerializer})
    @idempotent(required=True)
    def create(self, request: Request) -> HttpResponseBase:
        """Judge and book a delivery; 200 if its `reference` is already recorded with the same content."""
        serializer = self.get_write_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        said = serializer.validated_data
        delivered = said.get("delivered")
        delivery = Delivery(
            order=said["order"],
            quantity=said["quantity"],
            readings=readings_of(delivered) if delivered else None,
            wrong=said.get("wrong") or "",
            reference=said.get("reference") or "",
            at=said.get("checked_at"),
            by=caller_of(request),
        )
        with ledger_refusals(request), logging_changes(SupplyOrder.objects.filter(pk=delivery.order.pk)):
            recorded = deliveries.record_delivery(delivery, in_words=sentences)
        if not recorded.is_known:
            log_creation(recorded.check)
        code = status.HTTP_200_OK if recorded.is_known else status.HTTP_201_CREATED
        response = self.respond(recorded.check, code)
        response["Location"] = request.build_absolute_uri(f"{request.path}{recorded.check.pk}/")
        return response

    @post_action(SettlementSerializer, DeliveryCheckSerializer, needs_key=True)
    def release(self, check: DeliveryCheck, values: dict[str, Any]) -> None:
        """Held pieces turned out to be what was ordered: they are free, and received for the order."""
        with ledger_refusals(self.request):
            deliveries.release(check, by=caller_of(self.request), **values)

    @post_action(SettlementSerializer, DeliveryCheckSerializer, needs_key=True)
    def send_back(self, check: DeliveryCheck, values: dict[str, Any]) -> None:
        """Held pieces go back to the supplier and leave the books; the order goes on waiting for others."""
        with ledger_refusals(self.request):
            deliveries.send_back(check, by=caller_of(self.request), **values)

"""IncomingDelivery checks: a delivery is judged against its order, received or put on hold, and settled later."""

from typing import Any, ClassVar

from django import forms
from django.db.models import Prefetch
from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field, inline_serializer
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.deliveries import RELEASE, SEND_BACK, record_delivery, settle
from api.answers.figures import CountedTimeQuery, counted_time
from api.answers.receiving import DeliveredSerializer, readings_of
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictCharField, StrictIntegerField, UtcDateTimeField
from api.edge.scope import visible_to_caller
from api.resources.booking import PieceLinksField, caller_of, check_piece_links
from api.resources.remedies import ledger_refusals
from api.wire.facts import FactSerializer
from api.wire.fields import OptionalTextField
from api.wire.records.delivery_checks import DELIVERY_CHECKS
from api.wire.serializers import BodySerializer, MemberErrors, ReadSerializer
from api.wire.views import ReadRecordViewSet, post_action
from drives.figures.suppliers import DeliveryStanding, SupplierDeliveries, suppliers
from inventory.facts import fact
from inventory.models import DeliveryCheck, StockEntry, SupplyOrder
from inventory.models.fields import GREATEST_QUANTITY
from inventory.stores.deliveries import LONGEST_REASON, LONGEST_REFERENCE, IncomingDelivery

MOST_ROWS = 50


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
    movements: Any = serializers.PrimaryKeyRelatedField(many=True, read_only=True)


class DeliveryRequestSerializer(BodySerializer):
    """What came for the order line. Without teeth on record, or where it is plainly another thing, `wrong` says so in words."""

    source = StrictCharField(max_length=40)  # type: ignore[assignment]
    external_id = StrictCharField(max_length=60)
    quantity = StrictIntegerField(min_value=1, max_value=GREATEST_QUANTITY)
    delivered = DeliveredSerializer(required=False, allow_null=True)
    piece_links = PieceLinksField(required=False, allow_null=True)
    wrong = OptionalTextField(max_length=LONGEST_REASON, help_text="What is wrong with it beside its sizes.")
    reference = OptionalTextField(max_length=LONGEST_REFERENCE)
    checked_at = UtcDateTimeField(required=False, allow_null=True)

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        return self._find_order(values) | check_piece_links(values)

    def _find_order(self, values: dict[str, Any]) -> MemberErrors:
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


class SupplierSerializer(serializers.Serializer[Any]):
    """Of one supplier; `share` of few deliveries says little: read it with its interval."""

    supplier = serializers.CharField(help_text="Empty: the orders name none.")
    checked = serializers.IntegerField(source="decided", help_text="Deliveries that are right or wrong.")
    wrong = serializers.IntegerField(help_text="Of these, something else than was ordered.")
    undecided = serializers.IntegerField(help_text="On hold as doubtful, and not counted.")
    interval = serializers.ListField(
        child=serializers.FloatField(),
        allow_null=True,
        help_text="Of the share that is wrong, 95 %, after Wilson: lowest, highest.",
    )
    deliveries = serializers.SerializerMethodField(
        help_text="Those counted, the wrong ones first; 50 at most."
    )

    @extend_schema_field(
        inline_serializer(
            "SupplierDelivery",
            {
                "delivery_check": serializers.IntegerField(),
                "external_id": serializers.CharField(),
                "item": serializers.CharField(),
                "quantity": serializers.IntegerField(),
                "checked_at": serializers.DateTimeField(),
                "standing": serializers.ChoiceField(choices=[one.value for one in DeliveryStanding]),
            },
            many=True,
        )
    )
    def get_deliveries(self, row: SupplierDeliveries) -> list[dict[str, Any]]:
        return [
            {
                "delivery_check": one.check.pk,
                "external_id": one.check.order.external_id,
                "item": one.check.item.stock_number,
                "quantity": one.check.quantity,
                "checked_at": one.check.checked_at,
                "standing": one.standing.value,
            }
            for one in row.deliveries[:MOST_ROWS]
        ]


class SuppliersSerializer(serializers.Serializer[Any]):
    since = serializers.DateField(help_text="First day counted.")
    until = serializers.DateField(help_text="Last day counted.")
    results = SupplierSerializer(many=True)


class DeliveryCheckViewSet(ReadRecordViewSet):
    """Deliveries against their orders. What passes is received; everything else goes on hold, and the order stays open."""

    record = DELIVERY_CHECKS
    queryset = DeliveryCheck.objects.select_related("order", "item", "storeroom").prefetch_related(
        Prefetch("movements", StockEntry.objects.order_by("pk"))
    )
    write_serializer_class = DeliveryRequestSerializer
    query_forms: ClassVar[dict[str, type[forms.Form]]] = {"suppliers": CountedTimeQuery}

    @extend_schema(responses={200: DeliveryCheckSerializer, 201: DeliveryCheckSerializer})
    @idempotent(required=True)
    def create(self, request: Request) -> HttpResponseBase:
        """Judge and book a delivery; 200 if its `reference` is already recorded with the same content."""
        serializer = self.get_write_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        said = serializer.validated_data
        delivered = said.get("delivered")
        delivery = IncomingDelivery(
            order=said["order"],
            quantity=said["quantity"],
            readings=readings_of(delivered) if delivered else None,
            pieces=tuple(said.get("piece_links") or ()),
            wrong=said.get("wrong") or "",
            reference=said.get("reference") or "",
            at=said.get("checked_at"),
            by=caller_of(request),
        )
        with ledger_refusals(request):
            recorded = record_delivery(delivery)
        code = status.HTTP_200_OK if recorded.is_known else status.HTTP_201_CREATED
        response = self.respond(recorded.check, code)
        response["Location"] = request.build_absolute_uri(f"{request.path}{recorded.check.pk}/")
        return response

    @post_action(SettlementSerializer, DeliveryCheckSerializer, needs_key=True)
    def release(self, check: DeliveryCheck, values: dict[str, Any]) -> None:
        """Held pieces turned out to be what was ordered: they are free, and received for the order."""
        with ledger_refusals(self.request):
            settle(check, RELEASE, by=caller_of(self.request), **values)

    @post_action(SettlementSerializer, DeliveryCheckSerializer, needs_key=True)
    def send_back(self, check: DeliveryCheck, values: dict[str, Any]) -> None:
        """Held pieces go back to the supplier and leave the books; the order goes on waiting for others."""
        with ledger_refusals(self.request):
            settle(check, SEND_BACK, by=caller_of(self.request), **values)

    @extend_schema(responses=SuppliersSerializer)
    @action(detail=False, is_list=True)
    def suppliers(self, request: Request) -> Response:
        """How many deliveries of each supplier were wrong, out of how many, with the deliveries that count."""
        wanted = counted_time(self.read_query(), timezone.now())
        rows = suppliers(wanted.begins, wanted.ends, wanted.storerooms)
        return self.listed(
            SuppliersSerializer({"since": wanted.since, "until": wanted.until, "results": rows})
        )

"""Work orders from the plant's work-order system: one by one, in bulk, and a daily comparison."""

from datetime import timedelta
from typing import Any

from django import forms
from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.exceptions import PermissionDenied
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.errors import parameter_errors
from api.edge.filtering import DayText
from api.edge.parsing import StrictBooleanField, StrictSerializer
from api.resources.feeding import MOST_AT_ONCE, message_result, process_each, process_message
from api.wire.facts import FactSerializer, RefusalCodeField, reason_with_sentence
from api.wire.records.work_orders import WORK_ORDERS
from api.wire.views import SourceKeyViewSet
from api.wire.work_order_bodies import WorkOrderBody
from drives.feed.stored_messages import daily_counts
from drives.models import MessageOutcome, WorkOrder
from inventory.models.access_scope import current_scope

LONGEST_SPAN = timedelta(days=366)
OUTCOMES = [*MessageOutcome.values]
NOTES = "With the answer that booked it: pieces that people had issued for the order before, which its list counts too."


class WorkOrderSerializer(WorkOrderBody):
    """The order as it stands; `ended` is the life that it ended, `begun` the one that it began."""

    id = serializers.IntegerField(read_only=True)
    source = serializers.CharField(read_only=True)  # type: ignore[assignment]
    external_id = serializers.CharField(read_only=True)
    unread_codes = serializers.DictField(child=serializers.CharField(), read_only=True)
    ended = serializers.IntegerField(read_only=True, allow_null=True)
    begun = serializers.IntegerField(read_only=True, allow_null=True)
    created_at = serializers.DateTimeField(read_only=True)

    def to_representation(self, order: WorkOrder) -> dict[str, Any]:
        return {
            "id": order.pk,
            "source": order.source,
            "external_id": order.external_id,
            "title": order.title or None,
            "kind": order.kind or None,
            "urgency": order.urgency or None,
            "needed_by": order.needed_by,
            "status": order.status,
            "position": order.position.tag if order.position else None,
            "equipment": order.equipment.tag if order.equipment else None,
            "opened_at": order.opened_at,
            "closed_at": order.closed_at,
            "updated_at": order.source_updated_at,
            "failure": failure_shown(order),
            "parts_needed": order.parts_needed,
            "parts_used": order.parts_used,
            "attributes": order.attributes,
            "unread_codes": order.unread_codes,
            "ended": order.ended_id,
            "begun": order.begun_id,
            "created_at": order.created_at,
        }


def failure_shown(order: WorkOrder) -> dict[str, Any] | None:
    if not order.has_failure:
        return None
    hours = order.running_hours
    words = ("mechanism", "detected_by", "ended_by", "cause", "part")
    return {
        **{name: getattr(order, name) or None for name in words},
        "removed_at": order.removed_at,
        "running_hours": None if hours is None else float(hours),
        "note": order.failure_note or None,
    }


class ReasonSerializer(serializers.Serializer[Any]):
    about = serializers.ChoiceField(choices=["unknown", "stock", "fitted", "refused"])
    field = serializers.CharField()
    value = serializers.CharField()
    detail = serializers.CharField()
    code = RefusalCodeField()
    values = serializers.DictField()

    def to_representation(self, instance: Any) -> dict[str, Any]:
        return reason_with_sentence(instance)


class MessageResultSerializer(serializers.Serializer[Any]):
    """The result of a message; `reasons` says which records it waits for, `notes` what was not booked again."""

    applied = StrictBooleanField(help_text="False: what is recorded is as new, and nothing changed.")
    outcome = serializers.ChoiceField(choices=[*OUTCOMES, "refused"])
    message = serializers.IntegerField(allow_null=True)
    reasons = ReasonSerializer(many=True)
    notes = FactSerializer(many=True, help_text=NOTES)


class TakenSerializer(serializers.Serializer[Any]):
    applied = StrictBooleanField(read_only=True)
    outcome = serializers.ChoiceField(choices=OUTCOMES, read_only=True)
    message = serializers.IntegerField(read_only=True)
    reasons = ReasonSerializer(many=True, read_only=True)
    notes = FactSerializer(many=True, read_only=True, help_text=NOTES)


class UpsertedWorkOrderSerializer(WorkOrderSerializer, TakenSerializer):
    pass


class ErrorSerializer(serializers.Serializer[Any]):
    pointer = serializers.CharField()
    detail = serializers.CharField()
    code = RefusalCodeField()
    values = serializers.DictField()


class ElementSerializer(MessageResultSerializer):
    index = serializers.IntegerField()
    status = serializers.IntegerField()
    source = serializers.CharField()  # type: ignore[assignment]
    external_id = serializers.CharField()
    errors = ErrorSerializer(many=True)  # type: ignore[assignment]


class BulkAnswerSerializer(serializers.Serializer[Any]):
    results = ElementSerializer(many=True)


class NamedWorkOrderBody(WorkOrderBody):
    source = serializers.CharField(max_length=40)  # type: ignore[assignment]
    external_id = serializers.CharField(max_length=60)


class BulkBody(serializers.Serializer[Any]):
    """Each element is answered by itself, with the status that it would have got alone."""

    messages = NamedWorkOrderBody(many=True)


class BulkSerializer(StrictSerializer):
    messages = serializers.ListField(child=serializers.JSONField(), max_length=MOST_AT_ONCE)


class DaySerializer(serializers.Serializer[Any]):
    day = serializers.DateField()
    count = serializers.IntegerField()
    hash = serializers.CharField(
        help_text="SHA-256, in hexadecimal, over the lines external_id TAB updated_at NEWLINE, sorted by external_id; "
        "updated_at in UTC as 2026-03-01T06:30:00.000000Z."
    )
    waiting = serializers.IntegerField(help_text="So many of them wait in the quarantine.")


class ReconciliationSerializer(serializers.Serializer[Any]):
    source = serializers.CharField()  # type: ignore[assignment]
    days = DaySerializer(many=True)


class ReconciliationForm(forms.Form):
    source = forms.CharField(max_length=40, help_text="The system that sent the orders.")


ReconciliationForm.base_fields["from"] = DayText(help_text="First day, UTC.")
ReconciliationForm.base_fields["to"] = DayText(required=False, help_text="Last day, UTC; today if left out.")


class WorkOrderViewSet(SourceKeyViewSet):
    """Jobs of the plant's work-order system. Messages may be repeated and arrive in any order."""

    record = WORK_ORDERS
    serializer_class = WorkOrderSerializer
    query_forms = {"reconciliation": ReconciliationForm}

    @extend_schema(
        request=WorkOrderBody,
        responses={
            200: UpsertedWorkOrderSerializer,
            201: UpsertedWorkOrderSerializer,
            202: MessageResultSerializer,
        },
    )
    def upsert(self, request: Request, source: str, external_id: str) -> HttpResponseBase:
        """Process the message; an older one changes nothing, one that names an unknown record waits (202).

        Needs no If-Match: `updated_at` decides.
        """
        taken = process_message("work_order", source, external_id, self.without_repeated(request.data))
        if taken.record is None or taken.waits_for_records:
            return Response(message_result(taken), status=status.HTTP_202_ACCEPTED)
        return self.upserted(taken.record, created=taken.created, **message_result(taken))

    def without_repeated(self, data: Any) -> Any:
        """A representation may be sent back: read-only members are ignored if they are unchanged."""
        standing = self.get_queryset().filter(**self.kwargs).first()
        if standing is None or not isinstance(data, dict):
            return data
        present = WorkOrderSerializer(standing).present()
        set_here = [name for name, field in WorkOrderSerializer().fields.items() if field.read_only]
        return {
            name: value for name, value in data.items() if name not in set_here or present.get(name) != value
        }

    @extend_schema(request=BulkBody, responses=BulkAnswerSerializer)
    @action(detail=False, methods=["post"])
    def bulk(self, request: Request) -> HttpResponseBase:
        """Up to 1,000 messages, each answered with its index and status. Repeating them changes nothing: no key is needed."""
        messages = self.read(BulkSerializer, request)["messages"]
        return Response({"results": process_each("work_order", messages)})

    @extend_schema(responses=ReconciliationSerializer)
    @action(detail=False)
    def reconciliation(self, request: Request) -> HttpResponseBase:
        """Per day, how many orders bear it as their newest version, and a hash that the source can work out too."""
        if not current_scope().is_whole:
            raise PermissionDenied("Whole days are compared by credentials without limits alone.")
        asked = self.read_query()
        begin, end = asked["from"], asked["to"] or timezone.now().date()
        if not begin <= end <= begin + LONGEST_SPAN:
            raise parameter_errors({"to": "to must be from the day of from to 366 days later."})
        found = daily_counts(asked["source"], begin, end)
        return Response({"source": asked["source"], "days": [DaySerializer(day).data for day in found]})

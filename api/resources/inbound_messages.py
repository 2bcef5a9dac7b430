"""Messages as they came, and the quarantine: what waits is seen, tried again, or discarded by a person."""

from typing import Any

from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request

from api.edge.auth import caller_name
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictCharField, StrictSerializer
from api.exchange.feeds.held_records import RECORD
from api.resources.work_orders import ReasonSerializer
from api.wire.records.inbound_messages import INBOUND_MESSAGES
from api.wire.serializers import EmptyBodySerializer, ReadSerializer
from api.wire.views import ReadRecordViewSet
from drives.feed import quarantine


class SentReasonSerializer(ReasonSerializer):
    sent_field = serializers.CharField(
        allow_null=True, help_text="What the sender of a mapped feed calls the field."
    )


class InboundMessageSerializer(ReadSerializer):
    """A message as it came; `reasons` says what it waits for. `sent` is the record of a mapped feed."""

    record = INBOUND_MESSAGES
    reasons = SentReasonSerializer(many=True, read_only=True)
    sent = serializers.DictField(read_only=True)

    def to_representation(self, instance: Any) -> dict[str, Any]:
        shown: dict[str, Any] = super().to_representation(instance)
        fields = instance.sent.get("fields", {})
        for one in shown["reasons"]:
            own = one["field"] if instance.kind == RECORD else fields.get(one["field"].rpartition("/")[2])
            one["sent_field"] = own
        return shown


class DiscardSerializer(StrictSerializer):
    reason = StrictCharField(max_length=200, help_text="Why it is not to be applied.")


class InboundMessageViewSet(ReadRecordViewSet):
    """Messages as they were received. `outcome=waiting` lists the quarantine."""

    record = INBOUND_MESSAGES
    action_roles = {"discard": ("manager",)}

    @extend_schema(request=EmptyBodySerializer, responses=InboundMessageSerializer)
    @action(detail=True, methods=["post"])
    @idempotent()
    def retry(self, request: Request, pk: str) -> HttpResponseBase:
        """Look again for the records that the message waits for."""
        message = self.get_object()
        quarantine.refuse_unless_waiting(message)
        quarantine.retry(message, timezone.now())
        return self.respond(message)

    @extend_schema(request=DiscardSerializer, responses=InboundMessageSerializer)
    @action(detail=True, methods=["post"])
    @idempotent()
    def discard(self, request: Request, pk: str) -> HttpResponseBase:
        """Decide that a message is not to be applied; it stays to be read, with who decided and why."""
        message, why = self.get_object(), self.read(DiscardSerializer, request)["reason"]
        quarantine.discard(message, by=caller_name(request), why=why, now=timezone.now())
        return self.respond(message)

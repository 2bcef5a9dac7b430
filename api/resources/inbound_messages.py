"""Messages as they came, and the quarantine: what waits is seen, tried again, or discarded by a person."""

from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request

from api.edge.auth import caller_name
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictCharField, StrictSerializer
from api.resources.work_orders import ReasonSerializer
from api.wire.records.inbound_messages import INBOUND_MESSAGES
from api.wire.serializers import EmptyBodySerializer, ReadSerializer
from api.wire.views import ReadRecordViewSet
from drives.feed import quarantine


class InboundMessageSerializer(ReadSerializer):
    """A message as it came; `reasons` says what it waits for."""

    record = INBOUND_MESSAGES
    reasons = ReasonSerializer(many=True, read_only=True)


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

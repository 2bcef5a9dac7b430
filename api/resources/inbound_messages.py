"""Messages as they came, and the quarantine: what waits is seen, tried again, or discarded by a person."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request

from api.edge.auth import caller_name
from api.edge.concurrency import etag_response
from api.edge.errors import Conflict
from api.edge.filtering import Range, StrictFilterSet, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictCharField, StrictModelSerializer, StrictSerializer
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.resources.work_orders import ReasonSerializer
from drives.feed import quarantine
from drives.feed.quarantine import NotWaiting
from drives.models import InboundMessage, MessageOutcome

KINDS = ("work_order", "parts_used", "meter_reading")


class InboundMessageSerializer(StrictModelSerializer):
    """A message as it came; `reasons` says what it waits for."""

    reasons = ReasonSerializer(many=True, read_only=True)

    class Meta:
        model = InboundMessage
        fields = [
            *(
                "id",
                "kind",
                "source",
                "external_id",
                "version_at",
                "body",
                "outcome",
                "reasons",
                "received_at",
            ),
            *("tries", "tried_at", "settled_at", "settled_by_name", "settled_reason"),
        ]
        read_only_fields = fields


class DiscardSerializer(StrictSerializer):
    reason = StrictCharField(max_length=200, help_text="Why it is not to be applied.")


class NothingSerializer(StrictSerializer):
    """No members."""


class InboundMessageFilter(StrictFilterSet):
    numbers = {"tries": Range(0, 2**31 - 1, whole=True)}
    moments = {"received_at": "", "version_at": "", "settled_at": ""}
    search_fields = ["external_id"]
    kind = WordsFilter(choices=KINDS)
    source = WordsFilter()
    external_id = WordsFilter()
    outcome = WordsFilter(choices=MessageOutcome.values)


class InboundMessageViewSet(ReadOnlyResourceViewSet):
    """What the sources told, kept as it came. `outcome=waiting` is the quarantine."""

    queryset: QuerySet[Any] = InboundMessage.objects.all()
    serializer_class = InboundMessageSerializer
    filterset_class = InboundMessageFilter
    ordering_fields: ClassVar[Any] = ["id", "version_at", "received_at"]
    ordering = ("-id",)
    write_roles: ClassVar[Collection[str] | None] = ("manager", "integration")
    action_roles = {"discard": ("manager",)}

    @extend_schema(request=NothingSerializer, responses=InboundMessageSerializer)
    @action(detail=True, methods=["post"])
    @idempotent()
    def retry(self, request: Request, pk: str) -> HttpResponseBase:
        """Look again for what the message waits for."""
        message = self.get_object()
        if message.outcome != MessageOutcome.WAITING:
            raise Conflict(f"This message does not wait: its outcome is {message.outcome}.")
        quarantine.retry(message, timezone.now())
        return etag_response(request, self.represent(self.fresh(message)))

    @extend_schema(request=DiscardSerializer, responses=InboundMessageSerializer)
    @action(detail=True, methods=["post"])
    @idempotent()
    def discard(self, request: Request, pk: str) -> HttpResponseBase:
        """Decide that a message is not to be applied; it stays to be read, with who decided and why."""
        serializer = DiscardSerializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        message, why = self.get_object(), serializer.validated_data["reason"]
        try:
            quarantine.discard(message, by=caller_name(request), why=why, now=timezone.now())
        except NotWaiting as refusal:
            raise Conflict(refusal.sentence) from refusal
        return etag_response(request, self.represent(self.fresh(message)))

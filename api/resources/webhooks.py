"""Webhooks, their deliveries, and sending events again."""

from datetime import timedelta
from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.concurrency import etag_response
from api.edge.errors import Conflict
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictBooleanField, StrictCharField, StrictChoiceField, StrictIntegerField
from api.models import Delivery, Webhook, WebhookState
from api.resources.events import GREATEST_SEQUENCE, newest_sequence
from api.webhooks.addresses import LONGEST, AddressRefused, Target, ip_of, is_allowed, read_address, resolve
from api.webhooks.message import event_id
from api.webhooks.owners import owner_of, webhooks_of
from api.webhooks.queueing import bring_forward, queue_test, replay, replay_range
from api.webhooks.secrets import encrypted, new_secret
from api.wire.event_types import EVENT_TYPES, TEST
from api.wire.records.accounts import DELIVERIES, WEBHOOKS
from api.wire.serializers import BodySerializer, EmptyBodySerializer, MemberErrors, ReadSerializer
from api.wire.views import RecordViewSet, filterset_of, listing_of
from inventory.plumbing.events import sequence_events
from inventory.plumbing.leases import database_now

MOST_TYPES = 50
LONGEST_OVERLAP_HOURS = 168
DEFAULT_OVERLAP_HOURS = 24
MOST_REPLAYED = 10_000


class AddressField(StrictCharField):
    """Where to send. Its host name is resolved when the view says so, outside any transaction."""

    def to_internal_value(self, data: Any) -> str:
        url = super().to_internal_value(data)
        try:
            target = read_address(url)
            if self.context.get("looks_up"):
                resolve(target)
            else:
                refuse_inside(target)
        except AddressRefused as refusal:
            raise ValidationError(str(refusal)) from refusal
        return url


def refuse_inside(target: Target) -> None:
    """An IP address can be refused without resolving a name."""
    try:
        number = ip_of(target.host)
    except AddressRefused:
        return
    if not is_allowed(target.host, number):
        raise AddressRefused(f"{target.host} lies inside; the operator can open it for deliveries.")


class WebhookSerializer(ReadSerializer):
    """One subscriber. `types` empty means all; `state_reason` says why nothing is sent any more."""

    record = WEBHOOKS
    types = serializers.ListField(child=StrictCharField(), read_only=True)
    owner = serializers.SerializerMethodField()
    previous_secret_until = serializers.DateTimeField(
        source="previous_until", read_only=True, allow_null=True
    )

    def get_owner(self, webhook: Webhook) -> str:
        return str(webhook.owner_token.name if webhook.owner_token else webhook.owner_user)


class NewWebhookSerializer(WebhookSerializer):
    """`secret` is shown in this answer alone; the repetition of a request with its key answers null."""

    secret = StrictCharField(read_only=True, allow_null=True)


class WebhookRequestSerializer(BodySerializer):
    """A subscriber and its event types. `state` is `active` or `paused`; when it is active again, it gets what it missed."""

    url = AddressField(max_length=LONGEST)
    description = StrictCharField(max_length=200, required=False, allow_blank=True)
    types = serializers.ListField(
        child=StrictChoiceField(choices=[name for name in EVENT_TYPES if name != TEST]),
        required=False,
        max_length=MOST_TYPES,
    )
    state = StrictChoiceField(choices=[WebhookState.ACTIVE.value, WebhookState.PAUSED.value], required=False)


class RotationSerializer(BodySerializer):
    """How long deliveries are signed with the old secret too; 0 ends this at once."""

    overlap_hours = StrictIntegerField(min_value=0, max_value=LONGEST_OVERLAP_HOURS, required=False)


class ReplaySerializer(BodySerializer):
    """Events after this sequence number, up to and including `until` (or the newest)."""

    after = StrictIntegerField(min_value=0, max_value=GREATEST_SEQUENCE)
    until = StrictIntegerField(min_value=1, max_value=GREATEST_SEQUENCE, required=False, allow_null=True)
    only_dead = StrictBooleanField(required=False)

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        until = values["until"] = values.get("until") or newest_sequence()
        if "after" in values and until - values["after"] > MOST_REPLAYED:
            return {
                "until": [
                    f"At most {MOST_REPLAYED} events can be sent again at once: enter a smaller number."
                ]
            }
        return {}


class ReplayedSerializer(serializers.Serializer[Any]):
    queued = serializers.IntegerField(help_text="How many deliveries were queued.")


class DeliverySerializer(ReadSerializer):
    """One event for one webhook. `event` is the webhook-id of every attempt."""

    record = DELIVERIES
    event = serializers.SerializerMethodField()
    version = serializers.IntegerField(source="event.version", read_only=True)
    sequence = serializers.IntegerField(source="event.sequence", read_only=True, allow_null=True)

    def get_event(self, delivery: Delivery) -> str:
        return event_id(delivery.event)


class WebhookViewSet(RecordViewSet):
    """Signed deliveries after Standard Webhooks 1.0.0: at least once, in order for each aggregate."""

    record = WEBHOOKS
    write_serializer_class = WebhookRequestSerializer
    lookup_value_regex = "[0-9]{1,18}"
    http_method_names = ["get", "post", "patch", "delete", "head", "options"]
    listings = {"deliveries": listing_of(DELIVERIES, filterset_of(DELIVERIES))}

    def get_queryset(self) -> QuerySet[Any]:
        if getattr(self, "swagger_fake_view", False):
            return Webhook.objects.all()
        return webhooks_of(self.request)

    def look_up_address(self, request: Request, *, partial: bool) -> None:
        """All errors of the body, also of the resolved address; the name is resolved outside any transaction."""
        context = {**self.get_serializer_context(), "looks_up": True}
        body = WebhookRequestSerializer(data=request.data, partial=partial, context=context)
        body.is_valid(raise_exception=True)

    @extend_schema(responses={201: NewWebhookSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Subscribe. Only this answer contains the secret."""
        self.look_up_address(request, partial=False)
        self.secret: str | None = None
        return self.with_secret(super().create(request, *args, **kwargs))

    create.idempotency = "optional"  # type: ignore[attr-defined]

    def with_secret(self, response: HttpResponseBase) -> HttpResponseBase:
        """The secret is added after the answer was stored for the idempotency key, which is not encrypted."""
        if self.secret and isinstance(response, Response):
            response.data = {**response.data, "secret": self.secret}
        return response

    def represent(self, instance: Any) -> Any:
        found = super().represent(instance)
        return {**found, "secret": None} if self.action in ("create", "rotate_secret") else found

    def perform_create(self, serializer: Any) -> Webhook:
        self.secret = new_secret()
        sequence_events()
        return Webhook.objects.create(
            **serializer.validated_data,
            **owner_of(self.request),
            secret=encrypted(self.secret),
            from_sequence=newest_sequence(),
        )

    def partial_update(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
        self.get_object()
        self.look_up_address(request, partial=True)
        return super().partial_update(request, *args, **kwargs)

    def perform_update(self, serializer: Any) -> Webhook:
        webhook: Webhook = serializer.instance
        for name, value in serializer.validated_data.items():
            setattr(webhook, name, value)
        if "state" in serializer.validated_data:
            webhook.state_reason, webhook.failing_since, webhook.quiet_until = "", None, None
        names = [*serializer.validated_data, "state_reason", "failing_since", "quiet_until", "updated_at"]
        webhook.save(update_fields=names)
        if serializer.validated_data.get("state") == WebhookState.ACTIVE:
            bring_forward(webhook, database_now())
        return webhook

    @extend_schema(request=RotationSerializer, responses=NewWebhookSerializer)
    @action(detail=True, methods=["post"], url_path="rotate-secret")
    def rotate_secret(self, request: Request, pk: str) -> HttpResponseBase:
        """A new secret, shown once; until the overlap ends, deliveries are signed with the old one too."""
        self.secret = None
        return self.with_secret(self.rotate(request))

    rotate_secret.idempotency = "optional"  # type: ignore[attr-defined]

    @idempotent()
    def rotate(self, request: Request) -> HttpResponseBase:
        values = self.read(RotationSerializer, request)
        webhook = self.locked_webhook()
        hours = values.get("overlap_hours", DEFAULT_OVERLAP_HOURS)
        self.secret = new_secret()
        webhook.previous_secret, webhook.secret = webhook.secret if hours else "", encrypted(self.secret)
        webhook.previous_until = timezone.now() + timedelta(hours=hours) if hours else None
        webhook.save(update_fields=["secret", "previous_secret", "previous_until", "updated_at"])
        return etag_response(request, self.represent(self.fresh(webhook)))

    def locked_webhook(self) -> Webhook:
        return get_object_or_404(Webhook.objects.select_for_update(of=("self",)), pk=self.get_object().pk)

    @extend_schema(request=EmptyBodySerializer, responses={202: DeliverySerializer})
    @action(detail=True, methods=["post"])
    @idempotent()
    def test(self, request: Request, pk: str) -> HttpResponseBase:
        """Send an event of type webhook.test to this webhook alone."""
        EmptyBodySerializer(data=request.data).is_valid(raise_exception=True)
        webhook = self.get_object()
        if webhook.state != WebhookState.ACTIVE:
            raise Conflict(f"The webhook is {webhook.state}, so nothing is sent: set state to active first.")
        found = DeliverySerializer(queue_test(webhook)).data
        return Response(found, status=status.HTTP_202_ACCEPTED)

    @extend_schema(responses=DeliverySerializer(many=True))
    @action(detail=True)
    def deliveries(self, request: Request, pk: str) -> HttpResponseBase:
        """Deliveries that were sent, wait, or are dead."""
        rows = Delivery.objects.filter(webhook=self.get_object()).select_related("event")
        return self.list_of(rows, DeliverySerializer)

    @extend_schema(request=EmptyBodySerializer, responses=DeliverySerializer)
    @action(detail=True, methods=["post"], url_path="deliveries/(?P<delivery>[0-9]{1,18})/replay")
    @idempotent()
    def replay_delivery(self, request: Request, pk: str, delivery: str) -> HttpResponseBase:
        """Send one event again with the same id, with all attempts."""
        EmptyBodySerializer(data=request.data).is_valid(raise_exception=True)
        webhook = self.get_object()
        rows = Delivery.objects.filter(webhook=webhook, pk=delivery)
        get_object_or_404(rows)
        replay(webhook, rows)
        return Response(DeliverySerializer(rows.select_related("event").get()).data)

    @extend_schema(request=ReplaySerializer, responses={202: ReplayedSerializer})
    @action(detail=True, methods=["post"])
    @idempotent()
    def replay(self, request: Request, pk: str) -> HttpResponseBase:
        """Send a range of events again, each with the same id, and those that the webhook never got."""
        asked = {"only_dead": False, **self.read(ReplaySerializer, request)}
        queued = replay_range(self.get_object(), **asked)
        return Response({"queued": queued}, status=status.HTTP_202_ACCEPTED)

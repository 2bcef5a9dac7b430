"""Events in the order in which they became visible. Webhooks deliver the same events sooner."""

from typing import Any
from urllib.parse import urlencode

from django import forms
from django.conf import settings
from django.db import DatabaseError
from django.db.models import Max, QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.errors import parameter_errors
from api.edge.filtering import NumberText, Range, WordsText
from api.edge.pagination import DEFAULT_LIMIT, MAX_LIMIT
from api.edge.parsing import StrictModelSerializer
from api.edge.reading import follow
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from api.webhooks.message import event_id
from api.wire.event_types import EVENT_TYPES, TEST
from api.wording.sentences import with_explanations
from inventory.models import Event
from inventory.plumbing.events import sequence_events

GREATEST_SEQUENCE = 2**53 - 1


class EventDataField(serializers.DictField):
    """As it was recorded, with a sentence beside each code."""

    def to_representation(self, value: Any) -> Any:
        return with_explanations(value)


class EventSerializer(StrictModelSerializer):
    """One thing that happened. `version` counts the events of its aggregate; `sequence` counts all."""

    id = serializers.SerializerMethodField(help_text="The webhook-id under which it is delivered too.")
    storeroom = serializers.SerializerMethodField()
    plant = serializers.SerializerMethodField()
    data = EventDataField(read_only=True)  # type: ignore[assignment]

    class Meta:
        model = Event
        fields = [
            *("id", "sequence", "type", "aggregate", "version", "occurred_at", "recorded_at"),
            *("storeroom", "plant", "data"),
        ]
        read_only_fields = fields

    def get_id(self, event: Event) -> str:
        return event_id(event)

    def get_storeroom(self, event: Event) -> str | None:
        return event.storeroom or None

    def get_plant(self, event: Event) -> str | None:
        return event.plant or None


class EventPageSerializer(serializers.Serializer[Any]):
    """`after` is what to ask with next time; `next` is null when nothing more is there yet.

    Above 0, `missing` says that numbers in between are no longer kept, or never were given: read the records again.
    """

    next = serializers.URLField(allow_null=True)
    previous = serializers.URLField(allow_null=True)
    results = EventSerializer(many=True)
    after = serializers.IntegerField()
    missing = serializers.IntegerField()
    kept_days = serializers.IntegerField()


class EventQuery(forms.Form):
    after = NumberText(
        span=Range(0, GREATEST_SEQUENCE, whole=True),
        required=False,
        help_text="Events with a higher sequence than this; 0 or nothing begins with the oldest kept.",
    )
    type = WordsText(required=False, choices=EVENT_TYPES)
    aggregate = WordsText(required=False, help_text="Comma list of what it happened to.")
    limit = NumberText(span=Range(1, MAX_LIMIT, whole=True), required=False, help_text="Events in a page.")


class EventListView(StrictAPIView):
    is_list = True
    query_form = EventQuery

    @extend_schema(responses=EventPageSerializer)
    def get(self, request: Request) -> Response:
        """Events after a number, in order. None is skipped, however late it was committed."""
        asked = self.read_query()
        number_the_waiting()
        after, limit = int(asked["after"] or 0), int(asked["limit"] or DEFAULT_LIMIT)
        newest = newest_sequence()
        if after > newest:
            sentence = f"No event has that number yet; the newest has {newest}."
            raise parameter_errors({"after": sentence})
        rows = list(matching(asked, after, newest)[: limit + 1])
        more, rows = len(rows) > limit, rows[:limit]
        follow(rows[-1].recorded_at if rows else None)
        reached = rows[-1].sequence or 0 if more else newest
        body = {
            "next": address_after(request, reached) if more else None,
            "previous": None,
            "results": EventSerializer(rows, many=True).data,
            "after": reached,
            "missing": missing(after, reached),
            "kept_days": settings.EVENTS_KEPT_DAYS,
        }
        return Response(body, headers={"Link": f'<{body["next"]}>; rel="next"'} if more else {})


class KnownEventTypeSerializer(serializers.Serializer[Any]):
    type = serializers.CharField()
    text = serializers.CharField(help_text="What happened, and when such an event is written.")
    schema = serializers.CharField(help_text="The component of the OpenAPI document that its `data` has.")


class KnownEventTypesSerializer(serializers.Serializer[Any]):
    results = KnownEventTypeSerializer(many=True)


class EventTypesView(StrictAPIView):
    is_list = True

    @extend_schema(responses=KnownEventTypesSerializer)
    def get(self, request: Request) -> Response:
        """Every type that a webhook can subscribe to."""
        rows = [
            {"type": one.name, "text": one.text, "schema": f"{one.component}Data"}
            for one in EVENT_TYPES.values()
            if one.name != TEST
        ]
        return self.listed(KnownEventTypesSerializer({"results": rows}))


def number_the_waiting() -> None:
    """A read-only database can still list the events that have a number."""
    try:
        sequence_events()
    except DatabaseError:
        return


def newest_sequence() -> int:
    return Event.objects.aggregate(newest=Max("sequence"))["newest"] or 0


def matching(asked: dict[str, Any], after: int, newest: int) -> QuerySet[Event]:
    rows = Event.objects.filter(sequence__gt=after, sequence__lte=newest).exclude(type=TEST)
    if asked["type"]:
        rows = rows.filter(type__in=asked["type"])
    if asked["aggregate"]:
        rows = rows.filter(aggregate__in=asked["aggregate"])
    return visible_to_caller(rows).order_by("sequence")


def missing(after: int, reached: int) -> int:
    kept = Event.objects.filter(sequence__gt=after, sequence__lte=reached).count()
    return reached - after - kept


def address_after(request: Request, sequence: int) -> str:
    kept = [(name, value) for name, value in request.query_params.items() if name != "after"]
    return request.build_absolute_uri(f"{request.path}?{urlencode([*kept, ('after', sequence)])}")

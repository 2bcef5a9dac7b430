"""Count tasks: which shelves to count, blind, what was found, and how far the book can be trusted."""

from typing import Any, ClassVar

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.measuring import MeasureQuestionSerializer
from api.edge.concurrency import EtagCreateMixin
from api.edge.errors import field_refusal, parameter_errors
from api.edge.parsing import StrictCharField, StrictChoiceField, StrictIntegerField, UtcDateTimeField
from api.edge.scope import visible_to_caller
from api.exchange.counted_items import WrongMeasurement, count_and_measure
from api.resources.booking import caller_of
from api.resources.remedies import ledger_refusals
from api.wire.fields import OptionalTextField
from api.wire.measured import MeasuredSerializer
from api.wire.records.count_tasks import COUNT_TASKS
from api.wire.references import IdField, reference_to
from api.wire.serializers import BodySerializer, serializer_of
from api.wire.views import ReadRecordViewSet, post_action
from drives.assortment.measuring import measure_question
from inventory.facts import fact
from inventory.models import Condition, CountCause, CountTask, Item, StockEntry, StockPiece, Storeroom
from inventory.models.fields import GREATEST_QUANTITY
from inventory.stores.counting import counts
from inventory.stores.counting.accuracy import accuracy, found_on_the_way, hazards
from inventory.stores.counting.count_requests import request_count

CountTaskSerializer = serializer_of(COUNT_TASKS)


class CountTaskRequestSerializer(BodySerializer):
    """A shelf that somebody wants counted. One that is on the list already is brought forward."""

    item = reference_to(Item)
    storeroom = reference_to(Storeroom)
    condition = StrictChoiceField(choices=Condition.choices, default=Condition.NEW)


class CountSerializer(BodySerializer):
    """What was found. `seen_at` is when it was counted: what was moved between then and now is kept."""

    counted = StrictIntegerField(min_value=0, max_value=GREATEST_QUANTITY)
    seen_at = UtcDateTimeField(required=False, allow_null=True)
    piece = IdField(
        queryset=StockPiece.objects.all(),
        required=False,
        allow_null=True,
        help_text="Of chain in several pieces: the one whose links were counted.",
    )
    note = OptionalTextField(max_length=200)
    measured = MeasuredSerializer(
        required=False,
        allow_null=True,
        help_text="What `question` asks for, measured on a piece; written to the specification with its basis.",
    )


class DropSerializer(BodySerializer):
    """Why the shelf need not be counted."""

    note = StrictCharField(max_length=200)


class AccuracySerializer(serializers.Serializer[Any]):
    storeroom = serializers.CharField(allow_null=True)
    counted = serializers.IntegerField(
        help_text="Blind counts; one that an error had called for is left out."
    )
    right = serializers.IntegerField(help_text="Of these, found exactly what the book said.")
    share = serializers.FloatField(allow_null=True)
    interval = serializers.ListField(
        child=serializers.FloatField(), allow_null=True, help_text="95 %, after Wilson: lowest, highest."
    )
    errors_per_month = serializers.FloatField(
        help_text="How often a record turns wrong, of all counts; with few behind it, that of all storerooms."
    )

    found = serializers.IntegerField(
        help_text="Corrections at the counter: more lay there than the book said."
    )
    missing = serializers.IntegerField(
        help_text="Corrections at the counter: less lay there than the book said."
    )
    share_with_corrections = serializers.FloatField(
        allow_null=True,
        help_text="Right counts of all counts and corrections together: not above the true share.",
    )
    interval_with_corrections = serializers.ListField(child=serializers.FloatField(), allow_null=True)


class CountQuestionSerializer(serializers.Serializer[Any]):
    question = MeasureQuestionSerializer(
        allow_null=True, help_text="Null where nothing that is missing keeps the item from serving."
    )


class AccuracyQuery(forms.Form):
    storeroom = forms.CharField(required=False, max_length=20)


class CountTaskViewSet(EtagCreateMixin, ReadRecordViewSet):
    """Shelves to count, the costliest error first. A count is blind: the counter does not see the book quantity."""

    record = COUNT_TASKS
    write_serializer_class = CountTaskRequestSerializer
    query_forms: ClassVar[dict[str, type[forms.Form]]] = {"accuracy": AccuracyQuery}

    def perform_create(self, serializer: Any) -> CountTask:
        values = serializer.validated_data
        return request_count(**values, cause=CountCause.ASKED, at=timezone.now())

    @post_action(CountSerializer, CountTaskSerializer, needs_key=True)
    def count(self, task: CountTask, values: dict[str, Any]) -> None:
        """Say what was found, once: the book is set right by a movement, and shown. What was measured is written with it, or nothing is."""
        given = {"measured": {}, **{name: value for name, value in values.items() if value is not None}}
        try:
            with ledger_refusals(self.request):
                count_and_measure(task, given.pop("counted"), by=caller_of(self.request), **given)
        except WrongMeasurement as refusal:
            raise field_refusal(refusal, "measured", refusal.field) from refusal

    @post_action(DropSerializer, CountTaskSerializer)
    def drop(self, task: CountTask, values: dict[str, Any]) -> None:
        """Take the shelf off the list."""
        counts.drop(task, note=values["note"], by=caller_of(self.request))

    @extend_schema(responses=CountQuestionSerializer)
    @action(detail=True)
    def question(self, request: Request, **address: str) -> Response:
        """What to measure on a piece beside the count: the attribute that most verdicts wait for. A count without it is as good."""
        task = self.get_object()
        found = measure_question(task.item, timezone.localdate())
        return Response({"question": None if found is None else MeasureQuestionSerializer(found).data})

    @extend_schema(responses=AccuracySerializer)
    @action(detail=False)
    def accuracy(self, request: Request) -> Response:
        """The share of counts that found exactly what the book said, with the interval that they leave open.

        Corrections that people made at the counter are shown apart, and together with the counts.
        """
        code = self.read_query()["storeroom"]
        return Response(AccuracySerializer(trust_in(self.get_queryset(), code)).data)


def trust_in(tasks: QuerySet[Any], code: str) -> dict[str, Any]:
    room = visible_to_caller(Storeroom.objects.all()).filter(code=code).first() if code else None
    if code and room is None:
        raise parameter_errors({"storeroom": fact("no_such_record", kind="storeroom", name=code)})
    entries = visible_to_caller(StockEntry.objects.all())
    found = accuracy(tasks.filter(storeroom=room) if room else tasks)
    corrections = found_on_the_way(entries.filter(storeroom=room) if room else entries)
    together = corrections.joined_with(found)
    return {
        "storeroom": room.code if room else None,
        "counted": found.counted,
        "right": found.right,
        "share": found.share,
        "interval": found.interval,
        "found": corrections.found,
        "missing": corrections.missing,
        "share_with_corrections": together.share,
        "interval_with_corrections": together.interval,
        "errors_per_month": hazards().per_month(room.pk if room else 0),
    }

"""Movements: the ledger, read line by line and appended to by its writer alone."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request

from api.answers.substitutes import OfferSerializer
from api.edge.concurrency import EtagCreateMixin, etag_response
from api.edge.errors import Conflict
from api.edge.filtering import Range, StrictFilterSet, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.parsing import (
    MoneyField,
    StrictCharField,
    StrictModelSerializer,
)
from api.edge.record_views import STOCK_ROLES
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.resources.booking import (
    FoundRequestSerializer,
    MovementRequestSerializer,
    NotThereRequestSerializer,
    ReverseSerializer,
    caller_of,
    movement_of,
)
from api.resources.remedies import ledger_refusals
from api.wire.fields import OptionalTextField, WordField
from drives.service_record.reservation_override import may_go_first
from drives.substitutes.fit_questions import open_questions
from drives.substitutes.next_best import next_best
from inventory.models import Condition, MovementKind, ReasonCode, StockEntry
from inventory.models.fields import GREATEST_QUANTITY
from inventory.stores import ledger
from inventory.stores.counting.remedies import Found, found, not_there
from inventory.stores.ledger.booking import book


class MovementSerializer(StrictModelSerializer):
    """One line of the ledger. `change` is what it did to the shelf; a transfer has a line at each end."""

    item = StrictCharField(source="item.stock_number", read_only=True)
    storeroom = StrictCharField(source="storeroom.code", read_only=True)
    quantity = serializers.SerializerMethodField()
    to_storeroom = serializers.SerializerMethodField()
    from_storeroom = serializers.SerializerMethodField()
    work_order = OptionalTextField(read_only=True)
    position = OptionalTextField(read_only=True)
    reference = OptionalTextField(read_only=True)
    reason_code = WordField(ReasonCode.choices, read_only=True)
    unit_cost = MoneyField(read_only=True, allow_null=True)
    currency = StrictCharField(source="item.currency", read_only=True)
    reversed_by = serializers.SerializerMethodField()
    recorded_by = StrictCharField(source="recorded_by_name", read_only=True)

    class Meta:
        model = StockEntry
        fields = [
            "id",
            "kind",
            "item",
            "storeroom",
            "condition",
            "quantity",
            "change",
            "balance_after",
            "counted",
            "piece",
            "to_storeroom",
            "from_storeroom",
            "transfer",
            "work_order",
            "position",
            "reason",
            "reason_code",
            "reference",
            "expected_back_on",
            "unit_cost",
            "currency",
            "reverses",
            "reversed_by",
            "occurred_at",
            "recorded_at",
            "recorded_by",
        ]
        read_only_fields = fields

    def get_quantity(self, entry: StockEntry) -> int:
        return abs(entry.change)

    def get_to_storeroom(self, entry: StockEntry) -> str | None:
        return entry.other_storeroom.code if entry.other_storeroom and entry.change < 0 else None

    def get_from_storeroom(self, entry: StockEntry) -> str | None:
        return entry.other_storeroom.code if entry.other_storeroom and entry.change > 0 else None

    def get_reversed_by(self, entry: StockEntry) -> int | None:
        return getattr(getattr(entry, "reversed_by", None), "pk", None)


class FoundSerializer(MovementSerializer):
    """The issue, and the count that was booked with it."""

    count = MovementSerializer(
        read_only=True, allow_null=True, help_text="null: booked before, by its reference."
    )
    count_task = serializers.IntegerField(read_only=True, allow_null=True)

    class Meta(MovementSerializer.Meta):
        fields = [*MovementSerializer.Meta.fields, "count", "count_task"]
        read_only_fields = fields


class NotThereSerializer(MovementSerializer):
    """The count, and what else could serve: on a shelf now, best first."""

    count_task = serializers.IntegerField(read_only=True)
    next = OfferSerializer(many=True, read_only=True)

    class Meta(MovementSerializer.Meta):
        fields = [*MovementSerializer.Meta.fields, "count_task", "next"]
        read_only_fields = fields


class MovementFilter(StrictFilterSet):
    numbers = {
        "change": Range(-GREATEST_QUANTITY, GREATEST_QUANTITY, whole=True),
        "balance_after": Range(0, GREATEST_QUANTITY, whole=True),
    }
    moments = {"occurred_at": "", "recorded_at": ""}
    days = ("expected_back_on",)
    search_fields = [
        "item__stock_number",
        "item__description",
        "reason",
        "work_order",
        "reference",
        "position",
    ]
    item = WordsFilter("item__stock_number")
    storeroom = WordsFilter("storeroom__code")
    to_storeroom = WordsFilter(method="filter_to_storeroom")
    kind = WordsFilter(choices=MovementKind.values)
    condition = WordsFilter(choices=Condition.values)
    reason_code = WordsFilter(choices=ReasonCode.values)
    work_order = WordsFilter()
    position = WordsFilter()
    reference = WordsFilter()

    def filter_to_storeroom(self, queryset: QuerySet[Any], name: str, codes: list[str]) -> QuerySet[Any]:
        return queryset.filter(change__lt=0, other_storeroom__code__in=codes)


MOVEMENT_ORDER: dict[str, Any] = {"ordering_fields": ["id", "occurred_at", "recorded_at"], "ordering": "-id"}


class MovementViewSet(EtagCreateMixin, ReadOnlyResourceViewSet):
    """What came, went, was moved and was counted. A line is never changed and never deleted."""

    queryset: QuerySet[Any] = StockEntry.objects.with_places().select_related("reversed_by")
    serializer_class = MovementSerializer
    write_serializer_class = MovementRequestSerializer
    filterset_class = MovementFilter
    ordering_fields = MOVEMENT_ORDER["ordering_fields"]
    ordering = MOVEMENT_ORDER["ordering"]
    requires_idempotency_key = True
    write_roles: ClassVar[Collection[str] | None] = STOCK_ROLES

    def perform_create(self, serializer: Any) -> StockEntry:
        movement = movement_of(serializer.validated_data, caller_of(self.request))
        if movement.override and not may_go_first(movement.work_order):
            raise Conflict(
                f"{movement.work_order} is no corrective work: what is reserved is not taken for it."
            )
        with ledger_refusals(self.request, movement):
            booked = book(movement)
        if not booked.is_replay:
            open_questions(booked.entries)
        return booked.entry

    @extend_schema(request=ReverseSerializer, responses={201: MovementSerializer})
    @action(detail=True, methods=["post"])
    @idempotent(required=True)
    def reverse(self, request: Request, pk: str) -> HttpResponseBase:
        """Take a mistaken movement back, once; a transfer with both of its lines."""
        serializer = ReverseSerializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        entry = self.get_object()
        with ledger_refusals(request):
            booked = ledger.reverse(entry, by=caller_of(request), **serializer.validated_data)
        return self.created(request, booked.entry)

    @extend_schema(request=FoundRequestSerializer, responses={201: FoundSerializer})
    @action(detail=False, methods=["post"])
    @idempotent(required=True)
    def found(self, request: Request) -> HttpResponseBase:
        """The book says there is too little, and the piece is in the hand: count and issue in one, both or none.

        The shelf is put on the list of counts.
        """
        serializer = FoundRequestSerializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        values = dict(serializer.validated_data)
        counted = values.pop("counted", None)
        movement = movement_of({**values, "kind": MovementKind.ISSUE}, caller_of(request))
        with ledger_refusals(request, movement):
            done = found(movement, counted=counted)
        return self.created(request, done.issue.entry, **shown_found(self, done))

    @extend_schema(request=NotThereRequestSerializer, responses={201: NotThereSerializer})
    @action(detail=False, methods=["post"], url_path="not-there")
    @idempotent(required=True)
    def not_there(self, request: Request) -> HttpResponseBase:
        """The shelf is empty although the book says otherwise: a count of none, and what else could serve.

        Reservations that relied on it are kept as short, and their owners told. The shelf is put on the list of counts.
        """
        serializer = NotThereRequestSerializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        values = dict(serializer.validated_data)
        position = values.pop("position", None)
        with ledger_refusals(request):
            done = not_there(**values, by=caller_of(request))
        offers = next_best(values["item"], position, here=values["storeroom"], at=timezone.now())
        shown = OfferSerializer(offers, many=True).data
        return self.created(request, done.count.entry, count_task=done.task.pk, next=shown)

    def created(self, request: Request, entry: StockEntry, **more: Any) -> HttpResponseBase:
        entry = self.fresh(entry)
        response = etag_response(request, {**self.represent(entry), **more}, status.HTTP_201_CREATED)
        response["Location"] = self.location_of(entry)
        return response


def shown_found(view: MovementViewSet, done: Found) -> dict[str, Any]:
    count = view.represent(view.fresh(done.count.entry)) if done.count else None
    return {"count": count, "count_task": done.task.pk if done.task else None}

"""Movements: the ledger, read line by line and appended to by its writer alone."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet
from rest_framework import serializers

from api.concurrency import EtagCreateMixin
from api.filtering import Range, WordsFilter
from api.parsing import (
    MoneyField,
    StrictCharField,
    StrictModelSerializer,
)
from api.resources.attributes import DayFilterSet
from api.resources.booking import MovementRequestSerializer, caller_of, movement_of
from api.resources.fields import OptionalTextField, WordField
from api.resources.records import STOCK_ROLES
from api.resources.remedies import ledger_refusals
from api.viewsets import ReadOnlyResourceViewSet
from inventory.ledger.booking import book
from inventory.models import Condition, MovementKind, ReasonCode, StockEntry
from inventory.models.fields import GREATEST_QUANTITY


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


class MovementFilter(DayFilterSet):
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

    class Meta:
        model = StockEntry
        fields: list[str] = []

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
        with ledger_refusals(self.request, movement):
            return book(movement).entry

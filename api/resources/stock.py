"""Stock: what lies where, as the ledger has left it."""

from typing import Any

from django.db.models import Prefetch, QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.filtering import Range, TruthFilter, WordsFilter
from api.parsing import StrictCharField, StrictIntegerField, StrictModelSerializer
from api.resources.attributes import AttributeFilterSet
from api.viewsets import ReadOnlyResourceViewSet
from inventory.models import Condition, StockLevel, StockPiece, Unit
from inventory.models.fields import GREATEST_QUANTITY


class PieceSerializer(StrictModelSerializer):
    """A piece of chain as it lies there."""

    class Meta:
        model = StockPiece
        fields = ["id", "links", "label"]
        read_only_fields = fields


class StockSerializer(StrictModelSerializer):
    """How much of an item lies in a storeroom in one condition; of chain, in what pieces."""

    item = StrictCharField(source="item.stock_number", read_only=True)
    description = StrictCharField(source="item.description", read_only=True)
    unit = serializers.ChoiceField(Unit.choices, source="item.unit", read_only=True)
    storeroom = StrictCharField(source="storeroom.code", read_only=True)
    bin = serializers.SerializerMethodField()
    available = StrictIntegerField(read_only=True)
    pieces = serializers.SerializerMethodField()

    class Meta:
        model = StockLevel
        fields = [
            "id",
            "item",
            "description",
            "unit",
            "storeroom",
            "bin",
            "condition",
            "on_hand",
            "reserved",
            "available",
            "pieces",
            "last_counted_at",
            "updated_at",
        ]
        read_only_fields = fields

    def get_bin(self, level: StockLevel) -> str | None:
        return level.bin.code if level.bin else None

    @extend_schema_field(PieceSerializer(many=True))
    def get_pieces(self, level: Any) -> Any:
        return PieceSerializer(level.lying, many=True).data


class StockFilter(AttributeFilterSet):
    attributes_of = "item__specification__"
    numbers = {
        "on_hand": Range(0, GREATEST_QUANTITY, whole=True),
        "reserved": Range(0, GREATEST_QUANTITY, whole=True),
        "available": Range(0, GREATEST_QUANTITY, path="free", whole=True),
    }
    moments = {"last_counted_at": ""}
    search_fields = ["item__stock_number", "item__description", "item__maker_part_number", "bin__code"]
    item = WordsFilter("item__stock_number")
    storeroom = WordsFilter("storeroom__code")
    bin = WordsFilter("bin__code")
    condition = WordsFilter(choices=Condition.values)
    unit = WordsFilter("item__unit", choices=Unit.values)
    in_stock = TruthFilter(method="filter_in_stock", help_text="At least one is free.")

    class Meta:
        model = StockLevel
        fields: list[str] = []

    def filter_in_stock(self, queryset: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        return queryset.filter(free__gt=0) if value else queryset.filter(free=0)


class StockViewSet(ReadOnlyResourceViewSet):
    """The shelves. They change by movements and reservations alone."""

    queryset: QuerySet[Any] = (
        StockLevel.objects.with_places()
        .with_available()
        .prefetch_related(
            Prefetch(
                "pieces", StockPiece.objects.filter(links__gt=0).order_by("-links", "pk"), to_attr="lying"
            )
        )
    )
    serializer_class = StockSerializer
    filterset_class = StockFilter
    ordering_fields = {
        "id": "id",
        "item": "item__stock_number",
        "storeroom": "storeroom__code",
        "on_hand": "on_hand",
        "available": "free",
        "last_counted_at": "last_counted_at",
        "updated_at": "updated_at",
    }
    ordering = ("item__stock_number", "storeroom__code", "condition")

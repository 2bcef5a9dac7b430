"""Stock: what lies where, as the ledger has left it."""

from dataclasses import replace
from datetime import datetime
from typing import Any

from django import forms
from django.db.models import Prefetch, Q, QuerySet
from drf_spectacular.utils import PolymorphicProxySerializer, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.filtering import ConditionFilter, MomentFilter
from api.edge.parsing import StrictIntegerField, StrictModelSerializer
from api.wire.attribute_filters import AttributeFilterSet
from api.wire.fields import KeyField
from api.wire.records.stock import STOCK
from api.wire.serializers import ReadSerializer
from api.wire.views import ReadRecordViewSet, filterset_of
from inventory.models import StockLevel, StockPiece, Unit
from inventory.stores.ledger.as_of import with_balance_as_of


class PieceSerializer(StrictModelSerializer):
    """A piece of chain as it lies there."""

    class Meta:
        model = StockPiece
        fields = ["id", "links", "label"]
        read_only_fields = fields


class StockSerializer(ReadSerializer):
    """How much of an item lies in a storeroom in one condition; of chain, in what pieces."""

    record = STOCK
    unit = serializers.ChoiceField(Unit.choices, source="item.unit", read_only=True)
    bin = KeyField(key="code")
    available = StrictIntegerField(read_only=True)
    pieces = serializers.SerializerMethodField()

    @extend_schema_field(PieceSerializer(many=True))
    def get_pieces(self, level: Any) -> Any:
        return PieceSerializer(level.lying, many=True).data


class StockAsOfSerializer(ReadSerializer):
    """What the book said at a moment: what was recorded by then, in the order of the ledger, whenever it happened."""

    record = replace(STOCK, fields="id item storeroom condition on_hand movement")
    on_hand = StrictIntegerField(source="held", read_only=True)
    movement = StrictIntegerField(
        source="last_entry", read_only=True, help_text="The last movement that was recorded by then."
    )


class StockForm(forms.Form):
    """Then and now do not mix: what looks at the shelf as it is does not go with a moment that is over."""

    def clean(self) -> None:
        super().clean()
        if self.cleaned_data.get("as_of") is None:
            return
        for name in [name for name in self.fields if name in self.data and name.split("__")[0] in OF_TODAY]:
            self.add_error(name, "This looks at the shelf as it is now: leave it out beside as_of.")


OF_TODAY = ("on_hand", "reserved", "available", "in_stock", "last_counted_at", "bin")


class StockFilter(filterset_of(STOCK, AttributeFilterSet)):  # type: ignore[misc]
    attributes_of = "item__specification__"
    in_stock = ConditionFilter(lambda: Q(free__gt=0), help_text="At least one is free.")
    as_of = MomentFilter(
        method="filter_as_of",
        help_text=(
            "What the book said at that moment: by the order of the ledger, all that was recorded by then, "
            "whenever it happened. Rows have id, item, storeroom, condition, on_hand and movement."
        ),
    )

    class Meta:
        form = StockForm

    def filter_as_of(self, queryset: QuerySet[Any], name: str, moment: datetime) -> QuerySet[Any]:
        return with_balance_as_of(queryset, moment)


SHELVES: QuerySet[Any] = (
    StockLevel.objects.with_places()
    .with_available()
    .prefetch_related(
        Prefetch("pieces", StockPiece.objects.filter(links__gt=0).order_by("-links", "pk"), to_attr="lying")
    )
)


def shown_by(request: Request) -> type[serializers.BaseSerializer[Any]]:
    """The row that this query shows."""
    return StockAsOfSerializer if "as_of" in request.query_params else StockSerializer


STOCK_ROWS = {
    200: PolymorphicProxySerializer(
        component_name="StockRow",
        serializers=[StockSerializer, StockAsOfSerializer],
        resource_type_field_name=None,
        many=True,
    )
}


class StockViewSet(ReadRecordViewSet):
    """The shelves. They change by movements and reservations alone."""

    record = STOCK
    queryset: QuerySet[Any] = SHELVES
    filterset_class = StockFilter

    def get_serializer_class(self) -> type[serializers.BaseSerializer[Any]]:
        is_listing = self.action == "list" and getattr(self, "request", None) is not None
        return shown_by(self.request) if is_listing else StockSerializer

    @extend_schema(responses=STOCK_ROWS)
    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return super().list(request, *args, **kwargs)

"""Stock policies: what is in force for an item in a storeroom, as a person set it."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet

from api.edge.auth import caller_name
from api.edge.filtering import Range, TruthFilter, WordsFilter
from api.edge.parsing import StrictIntegerField
from api.edge.record_views import RecordViewSet
from api.models import Role
from api.wire.attribute_filters import DayFilterSet
from api.wire.references import item_field, storeroom_field
from api.wire.serializers import RecordSerializer
from inventory.models import StockPolicy
from inventory.models.stocking import MOST_KEPT


class StockPolicySerializer(RecordSerializer):
    """Order when on hand + on order - reserved has fallen to `reorder_point`, up to `order_up_to`."""

    item = item_field()
    storeroom = storeroom_field()
    reorder_point = StrictIntegerField(
        min_value=-1, max_value=MOST_KEPT, help_text="-1, with order_up_to 0, where it is not stocked."
    )
    order_up_to = StrictIntegerField(min_value=0, max_value=MOST_KEPT)

    class Meta:
        model = StockPolicy
        fields = [
            "id",
            "item",
            "storeroom",
            "stocked",
            "reorder_point",
            "order_up_to",
            "reason",
            "review_on",
            "set_by_name",
            "created_at",
            "updated_at",
        ]
        read_only_fields = ["set_by_name"]


class StockPolicyFilter(DayFilterSet):
    numbers = {
        "reorder_point": Range(-1, MOST_KEPT, whole=True),
        "order_up_to": Range(0, MOST_KEPT, whole=True),
    }
    moments = {"updated_at": ""}
    days = ("review_on",)
    search_fields = ["item__stock_number", "item__description", "reason", "set_by_name"]
    item = WordsFilter("item__stock_number")
    storeroom = WordsFilter("storeroom__code")
    stocked = TruthFilter()
    set_by_name = WordsFilter()

    class Meta:
        model = StockPolicy
        fields: list[str] = []


class StockPolicyViewSet(RecordViewSet):
    """Today's settings; a run recommends and never writes here."""

    queryset: QuerySet[Any] = StockPolicy.objects.select_related("item", "storeroom")
    serializer_class = StockPolicySerializer
    filterset_class = StockPolicyFilter
    write_roles: ClassVar[Collection[str] | None] = (Role.MANAGER,)
    ordering_fields = {
        **{name: name for name in ("id", "reorder_point", "order_up_to", "review_on", "updated_at")},
        "item": "item__stock_number",
        "storeroom": "storeroom__code",
    }
    ordering = ("item__stock_number", "storeroom__code")

    def perform_create(self, serializer: Any) -> StockPolicy:
        policy: StockPolicy = serializer.save(set_by_name=caller_name(self.request))
        return policy

    def perform_update(self, serializer: Any) -> Any:
        return serializer.save(set_by_name=caller_name(self.request))

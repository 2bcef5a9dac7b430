"""Minutes of shop work, as this plant has recorded them."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from api.edge.filtering import Range, StrictFilterSet, WordsFilter
from api.edge.record_views import KeyedRecordViewSet
from api.wire.serializers import RecordSerializer
from inventory.interchange.thresholds import SHIPPED_MINUTES
from inventory.interchange.vocabulary import Operation
from inventory.models import ShopTime
from inventory.models.fields import MINUTES_A_WEEK


class ShopTimeSerializer(RecordSerializer):
    """Minutes of one operation here; `shipped_minutes` is the estimate that it stands in for."""

    shipped_minutes = serializers.SerializerMethodField()

    class Meta:
        model = ShopTime
        fields = [
            "id",
            "operation",
            "minutes",
            "basis",
            "note",
            "shipped_minutes",
            "created_at",
            "updated_at",
        ]

    def get_shipped_minutes(self, shop_time: ShopTime) -> int | None:
        return SHIPPED_MINUTES.get(Operation(shop_time.operation))


class ShopTimeFilter(StrictFilterSet):
    numbers = {"minutes": Range(0, MINUTES_A_WEEK, whole=True)}
    operation = WordsFilter(choices=[str(word) for word in Operation])
    basis = WordsFilter(choices=ShopTime.Basis.values)

    class Meta:
        model = ShopTime
        fields: list[str] = []


class ShopTimeViewSet(KeyedRecordViewSet):
    """How long the work on a part takes."""

    queryset: QuerySet[Any] = ShopTime.objects.all()
    serializer_class = ShopTimeSerializer
    filterset_class = ShopTimeFilter
    lookup_field = "operation"
    ordering_fields = ["operation", "minutes"]
    ordering = "operation"

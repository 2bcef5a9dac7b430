"""Storerooms."""

from typing import Any

from django.db.models import QuerySet

from api.edge.filtering import Range, StrictFilterSet, WordsFilter
from api.edge.record_views import KeyedRecordViewSet
from api.wire.references import machine_shop_field
from api.wire.serializers import RecordSerializer
from inventory.models import Storeroom
from inventory.models.fields import MINUTES_A_WEEK


class StoreroomSerializer(RecordSerializer):
    """A storeroom and the shop that works on parts from it."""

    machine_shop = machine_shop_field(required=False, allow_null=True)

    class Meta:
        model = Storeroom
        fields = [
            "id",
            "code",
            "name",
            "site",
            "timezone",
            "machine_shop",
            "pick_minutes",
            "call_out_minutes",
            "created_at",
            "updated_at",
        ]


class StoreroomFilter(StrictFilterSet):
    numbers = {
        "pick_minutes": Range(0, MINUTES_A_WEEK, whole=True),
        "call_out_minutes": Range(0, MINUTES_A_WEEK, whole=True),
    }
    search_fields = ["code", "name", "site"]
    code = WordsFilter()
    site = WordsFilter()
    timezone = WordsFilter()
    machine_shop = WordsFilter("machine_shop__code")

    class Meta:
        model = Storeroom
        fields: list[str] = []


class StoreroomViewSet(KeyedRecordViewSet):
    """Where parts lie."""

    queryset: QuerySet[Any] = Storeroom.objects.select_related("machine_shop")
    serializer_class = StoreroomSerializer
    filterset_class = StoreroomFilter
    lookup_field = "code"
    ordering_fields = ["code", "name", "site", "pick_minutes"]
    ordering = "code"

"""Plants."""

from typing import Any

from django.db.models import QuerySet

from api.edge.filtering import StrictFilterSet, WordsFilter
from api.edge.record_views import KeyedRecordViewSet
from api.wire.references import machine_shop_field, storeroom_field
from api.wire.serializers import RecordSerializer
from drives.models import Plant


class PlantSerializer(RecordSerializer):
    """A plant, the storeroom whose counter serves it and its machine shop."""

    storeroom = storeroom_field(required=False, allow_null=True)
    machine_shop = machine_shop_field(required=False, allow_null=True)

    class Meta:
        model = Plant
        fields = [
            "id",
            "code",
            "name",
            "timezone",
            "storeroom",
            "machine_shop",
            "created_at",
            "updated_at",
        ]


class PlantFilter(StrictFilterSet):
    search_fields = ["code", "name"]
    code = WordsFilter()
    timezone = WordsFilter()
    storeroom = WordsFilter("storeroom__code")
    machine_shop = WordsFilter("machine_shop__code")

    class Meta:
        model = Plant
        fields: list[str] = []


class PlantViewSet(KeyedRecordViewSet):
    """Sites with drives."""

    queryset: QuerySet[Any] = Plant.objects.select_related("storeroom", "machine_shop")
    serializer_class = PlantSerializer
    filterset_class = PlantFilter
    lookup_field = "code"
    ordering_fields = ["code", "name"]
    ordering = "code"

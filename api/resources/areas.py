"""Areas of a plant."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from api.edge.filtering import StrictFilterSet, WordsFilter
from api.edge.record_views import RecordViewSet
from api.wire.references import plant_field
from api.wire.serializers import RecordSerializer
from drives.models import Area


class AreaSerializer(RecordSerializer):
    """An area; `path` is how others refer to it."""

    plant = plant_field()
    path = serializers.SerializerMethodField()

    class Meta:
        model = Area
        fields = ["id", "plant", "code", "path", "name", "created_at", "updated_at"]

    def get_path(self, area: Area) -> str:
        return str(area)


class AreaFilter(StrictFilterSet):
    search_fields = ["code", "name"]
    plant = WordsFilter("plant__code")
    code = WordsFilter()

    class Meta:
        model = Area
        fields: list[str] = []


class AreaViewSet(RecordViewSet):
    """Parts of a plant."""

    queryset: QuerySet[Any] = Area.objects.select_related("plant")
    serializer_class = AreaSerializer
    filterset_class = AreaFilter
    ordering_fields = {"id": "id", "code": "code", "name": "name", "plant": "plant__code"}
    ordering = ("plant__code", "code")

"""Equipment, which drives stand on."""

from typing import Any

from django.db.models import QuerySet

from api.edge.filtering import StrictFilterSet, TruthFilter, WordsFilter
from api.edge.parsing import StrictCharField
from api.edge.record_views import KeyedRecordViewSet
from api.wire.references import area_field
from api.wire.serializers import RecordSerializer
from drives.models import Equipment


class EquipmentSerializer(RecordSerializer):
    """A machine in an area of a plant."""

    area = area_field()
    plant = StrictCharField(source="area.plant.code", read_only=True)

    class Meta:
        model = Equipment
        fields = ["id", "tag", "area", "plant", "name", "standby", "created_at", "updated_at"]


class EquipmentFilter(StrictFilterSet):
    search_fields = ["tag", "name"]
    tag = WordsFilter()
    area = WordsFilter("area__code", help_text="Codes of areas, of whatever plant.")
    plant = WordsFilter("area__plant__code")
    standby = TruthFilter()

    class Meta:
        model = Equipment
        fields: list[str] = []


class EquipmentViewSet(KeyedRecordViewSet):
    """Machines by tag."""

    queryset: QuerySet[Any] = Equipment.objects.select_related("area__plant")
    serializer_class = EquipmentSerializer
    filterset_class = EquipmentFilter
    lookup_field = "tag"
    ordering_fields = {"tag": "tag", "name": "name", "area": "area__code"}
    ordering = "tag"

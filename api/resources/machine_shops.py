"""Machine shops, which finish what comes off the shelf."""

from typing import Any

from django.db.models import QuerySet

from api.edge.filtering import Range, StrictFilterSet, WordsFilter
from api.edge.record_views import KeyedRecordViewSet
from api.wire.serializers import RecordSerializer
from inventory.models import MachineShop
from inventory.models.fields import MINUTES_A_WEEK


class MachineShopSerializer(RecordSerializer):
    """A shop; `call_out_minutes` null: nobody comes outside opening hours."""

    class Meta:
        model = MachineShop
        fields = ["id", "code", "name", "timezone", "call_out_minutes", "phone", "created_at", "updated_at"]


class MachineShopFilter(StrictFilterSet):
    numbers = {"call_out_minutes": Range(0, MINUTES_A_WEEK, whole=True)}
    search_fields = ["code", "name"]
    code = WordsFilter()
    timezone = WordsFilter()

    class Meta:
        model = MachineShop
        fields: list[str] = []


class MachineShopViewSet(KeyedRecordViewSet):
    """Where bores are finished and keyseats cut."""

    queryset: QuerySet[Any] = MachineShop.objects.all()
    serializer_class = MachineShopSerializer
    filterset_class = MachineShopFilter
    lookup_field = "code"
    ordering_fields = ["code", "name"]
    ordering = "code"

"""Opening hours of storerooms and machine shops."""

from typing import Any

from django.db.models import QuerySet

from api.edge.filtering import Range, StrictFilterSet, WordsFilter
from api.edge.parsing import StrictIntegerField
from api.edge.record_views import RecordViewSet
from api.wire.references import machine_shop_field, storeroom_field
from api.wire.serializers import RecordSerializer
from inventory.models import OpeningHours


class OpeningHoursSerializer(RecordSerializer):
    """A stretch of a weekday (0 is Monday) on the clock of the place; it closes at 00:00 at the end of the day."""

    storeroom = storeroom_field(required=False, allow_null=True)
    machine_shop = machine_shop_field(required=False, allow_null=True)
    weekday = StrictIntegerField(min_value=0, max_value=6)

    class Meta:
        model = OpeningHours
        fields = ["id", "storeroom", "machine_shop", "weekday", "opens", "closes"]


class OpeningHoursFilter(StrictFilterSet):
    numbers = {"weekday": Range(0, 6, whole=True)}
    storeroom = WordsFilter("storeroom__code")
    machine_shop = WordsFilter("machine_shop__code")

    class Meta:
        model = OpeningHours
        fields: list[str] = []


class OpeningHoursViewSet(RecordViewSet):
    """When somebody is there."""

    queryset: QuerySet[Any] = OpeningHours.objects.select_related("storeroom", "machine_shop")
    serializer_class = OpeningHoursSerializer
    filterset_class = OpeningHoursFilter
    ordering_fields = ["id", "weekday", "opens", "closes"]
    ordering = ("weekday", "opens")

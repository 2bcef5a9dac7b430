"""Minutes on the way between storerooms."""

from typing import Any

from django.db.models import QuerySet

from api.edge.filtering import Range, StrictFilterSet, WordsFilter
from api.edge.record_views import RecordViewSet
from api.wire.references import storeroom_field
from api.wire.serializers import RecordSerializer
from inventory.models import TransferTime
from inventory.models.fields import MINUTES_A_WEEK


class TransferTimeSerializer(RecordSerializer):
    """The minutes of one way; a way without a record is not known."""

    from_storeroom = storeroom_field()
    to_storeroom = storeroom_field()

    class Meta:
        model = TransferTime
        fields = ["id", "from_storeroom", "to_storeroom", "minutes", "created_at", "updated_at"]


class TransferTimeFilter(StrictFilterSet):
    numbers = {"minutes": Range(0, MINUTES_A_WEEK, whole=True)}
    from_storeroom = WordsFilter("from_storeroom__code")
    to_storeroom = WordsFilter("to_storeroom__code")

    class Meta:
        model = TransferTime
        fields: list[str] = []


class TransferTimeViewSet(RecordViewSet):
    """How long parts are on the way."""

    queryset: QuerySet[Any] = TransferTime.objects.select_related("from_storeroom", "to_storeroom")
    serializer_class = TransferTimeSerializer
    filterset_class = TransferTimeFilter
    ordering_fields = {
        "id": "id",
        "minutes": "minutes",
        "from_storeroom": "from_storeroom__code",
        "to_storeroom": "to_storeroom__code",
    }
    ordering = ("from_storeroom__code", "to_storeroom__code")

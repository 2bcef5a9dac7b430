"""Bins: the places within a storeroom."""

from typing import Any

from django.db.models import QuerySet

from api.edge.filtering import StrictFilterSet, WordsFilter
from api.edge.record_views import RecordViewSet
from api.wire.fields import TagField
from api.wire.references import storeroom_field
from api.wire.serializers import RecordSerializer
from inventory.models import Bin


class BinSerializer(RecordSerializer):
    """A bin; its code is unique in its storeroom."""

    storeroom = storeroom_field()
    code = TagField(max_length=30)

    class Meta:
        model = Bin
        fields = ["id", "storeroom", "code", "created_at", "updated_at"]


class BinFilter(StrictFilterSet):
    search_fields = ["code"]
    storeroom = WordsFilter("storeroom__code")
    code = WordsFilter()

    class Meta:
        model = Bin
        fields: list[str] = []


class BinViewSet(RecordViewSet):
    """Where in the storeroom a part lies."""

    queryset: QuerySet[Any] = Bin.objects.select_related("storeroom")
    serializer_class = BinSerializer
    filterset_class = BinFilter
    ordering_fields = {"id": "id", "code": "code", "storeroom": "storeroom__code"}
    ordering = ("storeroom__code", "code")

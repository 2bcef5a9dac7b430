"""Duplicates: one part under several numbers, the dearest first."""

from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, QuerySet
from rest_framework import serializers

from api.edge.filtering import WordsFilter
from api.wire.facts import FactSerializer
from api.wire.records.duplicates import DUPLICATES
from api.wire.serializers import ReadSerializer
from api.wire.views import ReadRecordViewSet, filterset_of
from drives.duplicates.stored import open_groups
from inventory.models import DuplicateGroup, DuplicateMember, DuplicateShelf


class DuplicateItemSerializer(serializers.Serializer[Any]):
    item = serializers.CharField(source="item.stock_number")
    description = serializers.CharField(source="item.description")
    demand_per_year = serializers.FloatField()


class DuplicateNumberSerializer(serializers.Serializer[Any]):
    """One number there: its demand, its stock, and the pieces to keep of it alone."""

    item = serializers.CharField()
    demand_per_year = serializers.FloatField()
    lead_time_days = serializers.FloatField()
    on_hand = serializers.IntegerField()
    pieces = serializers.IntegerField()


class DuplicateShelfSerializer(serializers.Serializer[Any]):
    """A storeroom of the group, and the pieces to keep there of all numbers as one."""

    storeroom = serializers.CharField(source="storeroom.code")
    pieces_together = serializers.IntegerField()
    numbers = DuplicateNumberSerializer(many=True)

    def to_representation(self, shelf: DuplicateShelf) -> dict[str, Any]:
        members = {one.item_id: one.item.stock_number for one in shelf.group.members.all()}
        return {
            "storeroom": shelf.storeroom.code,
            "pieces_together": shelf.pieces_together,
            "numbers": [{**one, "item": members[one["item"]]} for one in shelf.numbers],
        }


class DuplicateGroupSerializer(ReadSerializer):
    record = DUPLICATES
    items = serializers.SerializerMethodField(help_text="Numbers that are merged already are left out.")
    shelves = DuplicateShelfSerializer(many=True, read_only=True)
    differences = FactSerializer(many=True, read_only=True)

    def get_items(self, group: DuplicateGroup) -> list[dict[str, Any]]:
        left = [one for one in group.members.all() if one.item.merged_into_id is None]
        return [dict(row) for row in DuplicateItemSerializer(left, many=True).data]


class DuplicateFilter(filterset_of(DUPLICATES)):  # type: ignore[misc]
    item = WordsFilter(method="filter_item", help_text="The group of this number.")

    def filter_item(self, queryset: QuerySet[Any], name: str, numbers: list[str]) -> QuerySet[Any]:
        members = DuplicateMember.objects.filter(group=OuterRef("pk"), item__stock_number__in=numbers)
        return queryset.filter(Exists(members))


class DuplicateViewSet(ReadRecordViewSet):
    """Found every night, by the verdict in both directions; the group that costs most comes first."""

    record = DUPLICATES
    filterset_class = DuplicateFilter
    queryset = open_groups().prefetch_related(
        Prefetch("members", DuplicateMember.objects.select_related("item").order_by("pk")),
        Prefetch("shelves", DuplicateShelf.objects.select_related("storeroom").order_by("storeroom__code")),
    )

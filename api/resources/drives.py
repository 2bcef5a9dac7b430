"""Chain drives."""

from typing import Any, cast

from django.db.models import Prefetch, Q, QuerySet, TextField
from django.db.models.functions import Cast
from rest_framework import serializers

from api.edge.filtering import WordsFilter
from api.wire.records.drives import DRIVES, ENVIRONMENTS
from api.wire.serializers import RecordSerializer
from api.wire.views import KeyedRecordViewSet, filterset_of, rows_of
from drives.models import Position

PLACES = Prefetch("positions", Position.objects.only("tag", "drive_id").order_by("tag"), to_attr="places")


class DriveSerializer(RecordSerializer):
    """A drive: its chain, centres and duty, and the tags of its positions."""

    record = DRIVES
    positions = serializers.SerializerMethodField()

    def get_positions(self, drive: Any) -> list[str]:
        return [position.tag for position in drive.places]


class DriveFilter(filterset_of(DRIVES)):  # type: ignore[misc]
    environment = WordsFilter(choices=ENVIRONMENTS, method="filter_environment")

    def filter_environment(self, queryset: QuerySet[Any], name: str, words: list[str]) -> QuerySet[Any]:
        """SQLite knows no containment in JSON: the quoted word is looked for in the text of the list."""
        named = Q()
        for word in words:
            named |= Q(surroundings__contains=f'"{word}"')
        described = queryset.annotate(surroundings=Cast("environment", TextField()))
        return cast(QuerySet[Any], described.filter(named))


class DriveViewSet(KeyedRecordViewSet):
    """Drives by tag."""

    record = DRIVES
    queryset = rows_of(DRIVES).prefetch_related(PLACES)
    filterset_class = DriveFilter

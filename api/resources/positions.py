"""Positions: the places on a drive, and what each asks of the sprocket that sits there."""

from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.edge.filtering import TruthFilter, WordsFilter
from api.edge.parsing import (
    StrictCharField,
    StrictDateField,
    StrictIntegerField,
    StrictSerializer,
    UtcDateTimeField,
)
from api.wire.records.positions import POSITIONS
from api.wire.serializers import RecordSerializer
from api.wire.views import KeyedRecordViewSet, filterset_of, rows_of
from drives.models import Installation

FITTED = Prefetch("installations", Installation.objects.with_parts().still_fitted(), to_attr="fitted_now")


class FittedSerializer(StrictSerializer):
    """The unit that sits there now."""

    installation = StrictIntegerField()
    item = StrictCharField(allow_null=True)
    specification = StrictIntegerField(allow_null=True)
    teeth = StrictIntegerField(allow_null=True)
    installed_at = UtcDateTimeField()
    temporary_until = StrictDateField(allow_null=True)


class PositionSerializer(RecordSerializer):
    """A place on a drive. `fitted` is the unit that sits there now; null: nothing is recorded as fitted."""

    record = POSITIONS
    fitted = serializers.SerializerMethodField()

    @extend_schema_field(FittedSerializer(allow_null=True))
    def get_fitted(self, position: Any) -> Any:
        return fitted_unit(position.fitted_now[0]) if position.fitted_now else None


def fitted_unit(unit: Installation) -> dict[str, Any]:
    shown = {
        "installation": unit.pk,
        "item": unit.item.stock_number if unit.item else None,
        "specification": unit.specification_id,
        "teeth": unit.specification.teeth if unit.specification else None,
        "installed_at": unit.installed_at,
        "temporary_until": unit.temporary_until,
    }
    return dict(FittedSerializer(shown).data)


class PositionFilter(filterset_of(POSITIONS)):  # type: ignore[misc]
    fitted = TruthFilter(method="filter_fitted", help_text="A unit sits there now.")
    item = WordsFilter(method="filter_item", help_text="Stock numbers of what sits there now.")

    def filter_fitted(self, queryset: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        there = Exists(Installation.objects.still_fitted().filter(position=OuterRef("pk")))
        return queryset.filter(there if value else ~there)

    def filter_item(self, queryset: QuerySet[Any], name: str, numbers: list[str]) -> QuerySet[Any]:
        fitted = Installation.objects.still_fitted().filter(item__stock_number__in=numbers)
        return queryset.filter(Exists(fitted.filter(position=OuterRef("pk"))))


class PositionViewSet(KeyedRecordViewSet):
    """Places by tag."""

    record = POSITIONS
    queryset = rows_of(POSITIONS).prefetch_related(FITTED)
    serializer_class = PositionSerializer
    filterset_class = PositionFilter

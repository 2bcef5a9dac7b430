"""Positions: the places on a drive, and what each asks of the sprocket that sits there."""

from collections.abc import Sequence
from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.answers.asked_parts import AskedFilterSet
from api.edge.filtering import ConditionFilter, WordsFilter
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
from drives.substitutes.asked_positions import of_positions
from inventory.descriptions.query import QueryFilter

FITTED = Prefetch("installations", Installation.objects.with_parts().still_fitted(), to_attr="fitted_now")


class FittedSerializer(StrictSerializer):
    """The unit that sits there now."""

    installation = StrictIntegerField(source="pk")
    item = StrictCharField(source="item.stock_number", allow_null=True)
    specification = StrictIntegerField(source="specification_id", allow_null=True)
    teeth = StrictIntegerField(source="specification.teeth", allow_null=True)
    installed_at = UtcDateTimeField()
    temporary_until = StrictDateField(allow_null=True)


class PositionSerializer(RecordSerializer):
    """A place on a drive. `fitted` is the unit that sits there now; null: nothing is recorded as fitted."""

    record = POSITIONS
    fitted = serializers.SerializerMethodField()

    @extend_schema_field(FittedSerializer(allow_null=True))
    def get_fitted(self, position: Any) -> Any:
        return FittedSerializer(position.fitted_now[0]).data if position.fitted_now else None


def fitted_here() -> QuerySet[Installation]:
    """What sits at the position of the outer query."""
    return Installation.objects.still_fitted().filter(position=OuterRef("pk"))


class AskedPositionFilter(AskedFilterSet):
    named_by = ("tag",)

    def asked_of(self, filters: Sequence[QueryFilter]) -> Q | None:
        return of_positions(filters)


class PositionFilter(filterset_of(POSITIONS, AskedPositionFilter)):  # type: ignore[misc]
    fitted = ConditionFilter(lambda: Exists(fitted_here()), help_text="A unit sits there now.")
    item = WordsFilter(method="filter_item", help_text="Stock numbers of what sits there now.")

    def filter_item(self, queryset: QuerySet[Any], name: str, numbers: list[str]) -> QuerySet[Any]:
        return queryset.filter(Exists(fitted_here().filter(item__stock_number__in=numbers)))


class PositionViewSet(KeyedRecordViewSet):
    """Places by tag."""

    record = POSITIONS
    queryset = rows_of(POSITIONS).prefetch_related(FITTED)
    filterset_class = PositionFilter

"""The prices and habits that stock is worked out with: one record, at its start values until the plant sets its own."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.urls import path
from rest_framework.viewsets import GenericViewSet

from api.edge.concurrency import EtagRetrieveMixin, EtagUpdateMixin
from api.edge.parsing import StrictBooleanField, StrictFloatField, UtcDateTimeField
from api.edge.viewsets import StrictViewMixin
from api.models import Role
from api.wire.records.stocking import TERMS
from api.wire.serializers import RecordSerializer
from inventory.models import StockingTerms

MOST_HOURS = 87_600
MOST_DAYS = 3_650
ONLY = 1


class StockingTermsSerializer(RecordSerializer):
    """`are_set` is false as long as nobody has set them. What a PUT leaves out goes back to its start value."""

    record = TERMS
    holding_rate_per_year = StrictFloatField(
        min_value=0, max_value=10, required=False, help_text="Share of the price; greater than 0."
    )
    hours_to_expedite = StrictFloatField(min_value=0, max_value=MOST_HOURS, required=False, allow_null=True)
    planning_days = StrictFloatField(min_value=0, max_value=MOST_DAYS, required=False)
    are_set = StrictBooleanField(read_only=True)
    updated_at = UtcDateTimeField(read_only=True, allow_null=True)


class StockingTermsView(StrictViewMixin, EtagRetrieveMixin, EtagUpdateMixin, GenericViewSet[Any]):
    """The terms in force."""

    queryset: QuerySet[Any] = StockingTerms.objects.all()
    serializer_class = StockingTermsSerializer
    write_roles: ClassVar[Collection[str] | None] = (Role.MANAGER,)
    pagination_class = None

    def get_object(self) -> StockingTerms:
        return self.get_queryset().filter(pk=ONLY).first() or StockingTerms(pk=ONLY)

    def perform_update(self, serializer: Any) -> Any:
        return serializer.save(are_set=True)


STOCKING_TERMS = [
    path(
        "stocking/terms/",
        StockingTermsView.as_view({"get": "retrieve", "put": "update"}),
        name="stocking-terms",
    )
]

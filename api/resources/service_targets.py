"""Service targets: what the plant promises itself for parts of one importance."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet

from api.edge.filtering import Range, StrictFilterSet, WordsFilter
from api.edge.parsing import StrictFloatField
from api.edge.record_views import KeyedRecordViewSet
from api.models import Role
from api.wire.serializers import RecordSerializer
from inventory.models import Importance, ServiceTarget, TargetKind

MOST_HOURS = 87_600
"""Ten years."""


class ServiceTargetSerializer(RecordSerializer):
    """The address holds the `importance`. `value` is not looked at where the kind is `cost`."""

    value = StrictFloatField(min_value=0, max_value=1, help_text="Between 0 and 1, neither of them.")
    tolerable_wait_hours = StrictFloatField(
        min_value=0, max_value=MOST_HOURS, required=False, allow_null=True
    )

    class Meta:
        model = ServiceTarget
        fields = [
            "id",
            "importance",
            "kind",
            "value",
            "tolerable_wait_hours",
            "note",
            "created_at",
            "updated_at",
        ]


class ServiceTargetFilter(StrictFilterSet):
    numbers = {"value": Range(0, 1), "tolerable_wait_hours": Range(0, MOST_HOURS)}
    importance = WordsFilter(choices=Importance.values)
    kind = WordsFilter(choices=TargetKind.values)

    class Meta:
        model = ServiceTarget
        fields: list[str] = []


class ServiceTargetViewSet(KeyedRecordViewSet):
    """One promise for each importance; a part is as important as the worst drive that nothing else can serve."""

    queryset: QuerySet[Any] = ServiceTarget.objects.all()
    serializer_class = ServiceTargetSerializer
    filterset_class = ServiceTargetFilter
    write_roles: ClassVar[Collection[str] | None] = (Role.MANAGER,)
    lookup_field = "importance"
    ordering_fields = ["importance", "value", "updated_at"]
    ordering = "importance"

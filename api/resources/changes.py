"""The log of changes, to be read."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet

from api.edge.filtering import StrictFilterSet, WordsFilter
from api.edge.parsing import StrictModelSerializer
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.models import Change, Role

ACTIONS = ("create", "change", "delete")


class ChangeSerializer(StrictModelSerializer):
    """`before` and `after` hold what differs; a secret shows only that it changed."""

    class Meta:
        model = Change
        fields = [
            *("id", "at", "by_name", "request_id", "action", "record", "key"),
            *("storeroom", "plant", "before", "after"),
        ]
        read_only_fields = fields


class ChangeFilter(StrictFilterSet):
    moments = {"at": ""}
    search_fields = ["key", "by_name"]
    by_name = WordsFilter()
    request_id = WordsFilter()
    action = WordsFilter(choices=ACTIONS)
    record = WordsFilter(help_text="Such as inventory.item.")
    key = WordsFilter()
    storeroom = WordsFilter()
    plant = WordsFilter()


class ChangeViewSet(ReadOnlyResourceViewSet):
    """Who changed which record from what to what, newest first. Nothing in it can be changed."""

    queryset: QuerySet[Any] = Change.objects.all()
    serializer_class = ChangeSerializer
    filterset_class = ChangeFilter
    ordering_fields = ["id"]
    ordering = "-id"
    read_roles: ClassVar[Collection[str] | None] = (Role.MANAGER,)

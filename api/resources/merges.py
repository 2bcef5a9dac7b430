"""Merges: one number that goes on under another, and the way back."""

from typing import Any

from django.db.models import Prefetch
from rest_framework import serializers

from api.answers.merges import undo_merge
from api.edge.parsing import StrictCharField
from api.resources.booking import caller_of
from api.wire.facts import FactSerializer
from api.wire.fields import OptionalTextField
from api.wire.records.duplicates import MERGES
from api.wire.references import reference_to
from api.wire.serializers import BodySerializer, ReadSerializer
from api.wire.views import ReadRecordViewSet, post_action
from inventory.models import Item, Merge, MergeLine


class MergeLineSerializer(serializers.Serializer[Any]):
    """One step; `record` is the id of what was changed."""

    step = serializers.CharField()
    storeroom = serializers.CharField(source="storeroom.code", allow_null=True, default=None)
    condition = serializers.CharField()
    quantity = serializers.IntegerField()
    record = serializers.IntegerField(source="record_id", allow_null=True)


class MergeSerializer(ReadSerializer):
    record = MERGES
    doubts = FactSerializer(many=True, read_only=True)
    left_with = FactSerializer(many=True, read_only=True)
    lines = MergeLineSerializer(many=True, read_only=True)


class MergeRequestSerializer(BodySerializer):
    """The number that stays, and why both are one part; where an engineer has to be asked, who said yes and why."""

    into = reference_to(Item, follows=False)
    reason = StrictCharField(max_length=200)
    approved_by = OptionalTextField(max_length=150)
    approval_reason = OptionalTextField(max_length=300)


class UndoSerializer(BodySerializer):
    reason = StrictCharField(max_length=200)


class MergeViewSet(ReadRecordViewSet):
    """Made by `items/{id}/merge/`; the newest first."""

    record = MERGES
    queryset = Merge.objects.select_related("item", "into").prefetch_related(
        Prefetch("lines", MergeLine.objects.select_related("storeroom").order_by("pk"))
    )

    @post_action(UndoSerializer, MergeSerializer, needs_key=True)
    def undo(self, merge: Merge, values: dict[str, Any]) -> None:
        """Put everything back as it was; refused with what stands in the way where stock has gone. What was set, reversed or
        ended since stays with the other number (`left_with`).
        """
        undo_merge(merge, by=caller_of(self.request), **values)

"""From when the record of a storeroom is complete, by source: as proposed, and as a manager set it."""

from typing import Any, cast

from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.edge.declarations import in_storeroom
from api.edge.parsing import UtcDateTimeField
from api.models import Role
from api.wire.declaration import ListForm, WireRecord, declare
from api.wire.facts import FactSerializer
from api.wire.serializers import MemberErrors, RecordSerializer
from drives.models import RecordStart
from inventory.facts import fact
from inventory.plumbing.record_validation import EARLIEST_YEAR

RECORD_STARTS = declare(
    WireRecord(
        RecordStart,
        path="record-starts",
        list_text=(
            "What lies before counts as lives of units, not as time in which demand would have been recorded. Every recompute "
            "proposes a day from the density of the records."
        ),
        key="storeroom source",
        scope=in_storeroom("storeroom"),
        fields="id storeroom source complete_from note proposed_from reason created_at updated_at",
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="storeroom source",
            days="complete_from",
            sortable="id storeroom source complete_from",
            ordering="storeroom__code source",
        ),
    )
)


class RecordStartSerializer(RecordSerializer):
    """A day that is set counts from the next recompute on; where several sources have one, the earliest of them."""

    record = RECORD_STARTS
    proposed_from = UtcDateTimeField(read_only=True, allow_null=True)
    reason = serializers.SerializerMethodField(
        help_text="Why that day is proposed; null before the first recompute."
    )

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        found = super().check_members(values, faults)
        draft = cast(RecordStart, self.draft(values))
        if draft.storeroom_id is not None and draft.lies_in_future(timezone.now()):
            found["complete_from"] = [fact("record_start_in_future")]
        if draft.complete_from is not None and draft.complete_from.year < EARLIEST_YEAR:
            limit = {"field": "complete_from", "earliest_year": EARLIEST_YEAR}
            found["complete_from"] = [fact("moment_implausible", **limit)]
        return found

    @extend_schema_field(FactSerializer(allow_null=True))
    def get_reason(self, row: RecordStart) -> Any:
        return FactSerializer(row.reason).data if row.reason else None

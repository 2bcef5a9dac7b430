"""Fit questions: parts that came back because they did not fit."""

from rest_framework import serializers

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import in_storeroom
from api.edge.filtering import TruthFilter
from api.wire.declaration import ListForm, WireRecord, declare
from api.wire.fields import OptionalTextField
from api.wire.recorded_checks import RecordedMeasureField, RecordedVerdictField
from inventory.models import FitQuestion

FIT_QUESTIONS = declare(
    WireRecord(
        FitQuestion,
        path="fit-questions",
        text=(
            "What the records said of the part at that place, and what has to be measured. `movement` is its return."
        ),
        is_read_only=True,
        log_key="item storeroom pk",
        scope=in_storeroom("storeroom"),
        fields=(
            "id item storeroom movement issue position work_order aspect measure verdict answer answered_at answered_by"
            " created_at"
        ),
        or_null="position work_order aspect answer",
        members={
            "movement": serializers.IntegerField(source="entry_id", read_only=True),
            "issue": serializers.IntegerField(source="issue_id", read_only=True, allow_null=True),
            "measure": RecordedMeasureField(
                source="*", read_only=True, help_text="The measurement that would settle it."
            ),
            "verdict": RecordedVerdictField(read_only=True, help_text="Empty where no place is known."),
            "answered_by": OptionalTextField(source="answered_by_name", read_only=True),
        },
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters="item storeroom position work_order aspect",
            more={"answered": TruthFilter("answered_at", lookup_expr="isnull", exclude=True)},
            moments="created_at answered_at",
            search="item__stock_number position work_order measure answer",
            sortable="id created_at answered_at",
            ordering="-id",
        ),
    )
)

"""Installations: which unit sits on which position, and who let it run for a time."""

from rest_framework import serializers

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import in_plant
from api.edge.filtering import Range, TruthFilter
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from api.wire.recorded_checks import RecordedChecksField
from api.wire.recorded_verdicts import ToldVerdictField
from drives.models import Approval, Installation

PLANT = "position__drive__equipment__area__plant"
LIFE = (
    "installed_at installed_why removed_at ended_by mechanism cause part running_hours age_basis work_order "
    "temporary_until approved_by approval_reference inspect_by"
)
INSTALLATIONS = declare(
    WireRecord(
        Installation,
        path="installations",
        text=(
            "One unit on one position; `movement` is the issue that brought it, `work_order` the one that ended it."
        ),
        is_read_only=True,
        key="position installed_at",
        log_key="position pk",
        scope=in_plant(PLANT),
        fields=(
            f"id position drive=position.drive.tag item specification movement {LIFE} verdict differences "
            "awaits_approval recorded_by=recorded_by_name note created_at updated_at"
        ),
        or_null="cause part work_order approved_by approval_reference",
        members={
            "movement": serializers.IntegerField(source="stock_entry_id", read_only=True, allow_null=True),
            "differences": RecordedChecksField(read_only=True),
            "verdict": ToldVerdictField(),
        },
        related="position__drive item specification recorded_verdict",
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters=(
                f"position drive=position__drive__tag equipment=position__drive__equipment__tag plant={PLANT}__code item "
                "ended_by mechanism cause part age_basis work_order approved_by approval_reference awaits_approval"
            ),
            more={
                "fitted": TruthFilter("removed_at", lookup_expr="isnull", help_text="Still sits there."),
            },
            numbers={"running_hours": Range(0, 10**8)},
            moments="installed_at removed_at",
            days="temporary_until inspect_by",
            search="position__tag item__stock_number installed_why cause note work_order",
            sortable="id installed_at removed_at running_hours temporary_until inspect_by",
            ordering="-installed_at -id",
        ),
        file=FileForm(
            order=150,
            columns=f"position item {LIFE} note",
            required="item",
            related={"position": ("drive",), "item": ("specification",)},
        ),
    )
)
APPROVALS = declare(
    WireRecord(
        Approval,
        path="",
        text=(
            "Who let a substitute run until when, with what differed from the requirement on the day of the approval."
        ),
        is_read_only=True,
        log_key="installation__position__tag pk",
        scope=in_plant(f"installation__{PLANT}"),
        fields=(
            "id installation approved_by reference until_on inspect_by differences recorded_at recorded_by=recorded_by_name"
        ),
        or_null="reference",
        members={"differences": RecordedChecksField(read_only=True)},
    )
)

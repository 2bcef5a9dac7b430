"""Count tasks: shelves to count, and what was found."""

from typing import Any

from rest_framework import serializers

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import in_storeroom
from api.wire.declaration import ListForm, WireRecord, declare
from api.wire.fields import OptionalTextField
from inventory.catalogue.measured_attributes import MEASURED
from inventory.models import CountTask


class MeasuredValueSerializer(serializers.Serializer[Any]):
    value = serializers.JSONField()
    basis = serializers.ChoiceField(choices=[MEASURED])


COUNT_TASKS = declare(
    WireRecord(
        CountTask,
        path="count-tasks",
        text="A shelf to count. The book quantity (`booked`) is hidden until it has been counted.",
        is_read_only=True,
        log_key="item storeroom pk",
        scope=in_storeroom("storeroom"),
        fields=(
            "id item description=item.description storeroom condition cause due_on worth state assigned_to booked counted "
            "variance counted_at counted_by movement measured note created_at updated_at"
        ),
        or_null="assigned_to note",
        members={
            "counted_by": OptionalTextField(source="counted_by_name", read_only=True),
            "variance": serializers.IntegerField(
                read_only=True, allow_null=True, help_text="Counted less booked; null before it was counted."
            ),
            "measured": serializers.DictField(
                child=MeasuredValueSerializer(),
                read_only=True,
                help_text="By attribute, what was measured at the count and written to the specification.",
            ),
            "movement": serializers.IntegerField(source="entry_id", read_only=True, allow_null=True),
        },
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters="item storeroom condition cause state assigned_to",
            moments="counted_at created_at",
            days="due_on",
            search="item__stock_number item__description note",
            sortable="id due_on worth counted_at",
            ordering="due_on -worth id",
        ),
    )
)

"""Service targets: what the plant promises itself for parts of one importance."""

from api.edge.declarations import EVERYBODY
from api.edge.filtering import Range
from api.edge.parsing import StrictFloatField
from api.models import Role
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from inventory.models import ServiceTarget

MOST_HOURS = 87_600
"""Ten years."""

SERVICE_TARGETS = declare(
    WireRecord(
        ServiceTarget,
        path="service-targets",
        text="The address holds the `importance`. `value` is not used where the kind is `cost`.",
        list_text=(
            "One promise for each importance; a part is as important as the worst drive that nothing else can serve."
        ),
        key="importance",
        scope=EVERYBODY,
        fields="id importance kind value tolerable_wait_hours note created_at updated_at",
        members={
            "value": StrictFloatField(
                min_value=0, max_value=1, help_text="Between 0 and 1, neither of them."
            ),
            "tolerable_wait_hours": StrictFloatField(
                min_value=0, max_value=MOST_HOURS, required=False, allow_null=True
            ),
        },
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="importance kind",
            numbers={"value": Range(0, 1), "tolerable_wait_hours": Range(0, MOST_HOURS)},
            sortable="importance value updated_at",
            ordering="importance",
        ),
        file=FileForm(order=190),
    )
)

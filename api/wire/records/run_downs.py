"""Items marked to be run down: nothing more is bought of them, and what lies there is used up."""

from api.edge.declarations import EVERYBODY
from api.edge.filtering import TruthFilter
from api.models import Role
from api.wire.declaration import ListForm, WireRecord, declare
from api.wire.fields import OptionalTextField
from inventory.models import RunDown

RUN_DOWNS = declare(
    WireRecord(
        RunDown,
        path="run-downs",
        text="An item that was marked to be run down, by whom and why, and who took it back.",
        is_read_only=True,
        log_key="item pk",
        scope=EVERYBODY,
        fields=("id item reason marked_at marked_by=marked_by_name undone_at undone_by undone_reason"),
        or_null="undone_reason",
        members={"undone_by": OptionalTextField(source="undone_by_name", read_only=True)},
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="item",
            more={"undone": TruthFilter("undone_at", lookup_expr="isnull", exclude=True)},
            search="item__stock_number",
            sortable="id",
            ordering="-id",
        ),
    )
)

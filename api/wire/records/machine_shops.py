"""Machine shops, which finish what comes off the shelf."""

from api.edge.declarations import EVERYBODY
from api.edge.filtering import Range
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from inventory.models import MachineShop
from inventory.models.fields import MINUTES_A_WEEK

MACHINE_SHOPS = declare(
    WireRecord(
        MachineShop,
        path="machine-shops",
        text="A shop; `call_out_minutes` null: nobody comes outside opening hours.",
        list_text="Where bores are finished and keyseats cut.",
        key="code",
        scope=EVERYBODY,
        fields="id code name timezone call_out_minutes phone created_at updated_at",
        listed=ListForm(
            filters="code timezone",
            numbers={"call_out_minutes": Range(0, MINUTES_A_WEEK, whole=True)},
            search="code name",
            sortable="code name",
            ordering="code",
        ),
        file=FileForm(order=10),
    )
)

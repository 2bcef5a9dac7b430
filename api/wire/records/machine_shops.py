"""Machine shops, which finish what comes off the shelf."""

from api.edge.declarations import EVERYBODY
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from inventory.models import MachineShop

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
            minutes="call_out_minutes",
            search="code name",
            sortable="code name",
            ordering="code",
        ),
        file=FileForm(order=10),
    )
)

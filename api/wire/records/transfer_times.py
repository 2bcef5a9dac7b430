"""Minutes on the way between storerooms."""

from api.edge.declarations import in_storeroom
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from inventory.models import TransferTime

TRANSFER_TIMES = declare(
    WireRecord(
        TransferTime,
        path="transfer-times",
        text="The minutes of one way; a way without a record is not known.",
        list_text="How long parts are on the way.",
        key="from_storeroom to_storeroom",
        scope=in_storeroom("from_storeroom", "to_storeroom"),
        fields="id from_storeroom to_storeroom minutes created_at updated_at",
        listed=ListForm(
            filters="from_storeroom to_storeroom",
            minutes="minutes",
            sortable="id minutes from_storeroom to_storeroom",
            ordering="from_storeroom__code to_storeroom__code",
        ),
        file=FileForm(order=50),
    )
)

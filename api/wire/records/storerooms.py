"""Storerooms."""

from api.edge.declarations import in_storeroom
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from inventory.models import Storeroom

STOREROOMS = declare(
    WireRecord(
        Storeroom,
        path="storerooms",
        text="A storeroom and the shop that works on parts from it.",
        list_text="Where parts lie.",
        key="code",
        scope=in_storeroom("pk"),
        fields="id code name site timezone machine_shop pick_minutes call_out_minutes created_at updated_at",
        listed=ListForm(
            filters="code site timezone machine_shop",
            minutes="pick_minutes call_out_minutes",
            search="code name site",
            sortable="code name site pick_minutes",
            ordering="code",
        ),
        file=FileForm(order=20),
    )
)

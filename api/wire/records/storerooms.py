"""Storerooms."""

from api.edge.declarations import in_storeroom
from api.edge.filtering import Range
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from inventory.models import Storeroom
from inventory.models.fields import MINUTES_A_WEEK

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
            numbers=dict.fromkeys(("pick_minutes", "call_out_minutes"), Range(0, MINUTES_A_WEEK, whole=True)),
            search="code name site",
            sortable="code name site pick_minutes",
            ordering="code",
        ),
        file=FileForm(order=20),
    )
)

"""Bins: the places within a storeroom."""

from api.edge.declarations import in_storeroom
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from api.wire.fields import TagField
from inventory.models import Bin

BINS = declare(
    WireRecord(
        Bin,
        path="bins",
        text="A bin; its code is unique in its storeroom.",
        list_text="Where in the storeroom a part lies.",
        key="storeroom code",
        scope=in_storeroom("storeroom"),
        fields="id storeroom code created_at updated_at",
        members={"code": TagField(max_length=30)},
        listed=ListForm(
            filters="storeroom code",
            search="code",
            sortable="id code storeroom",
            ordering="storeroom__code code",
        ),
        file=FileForm(order=30),
    )
)

"""Areas of a plant."""

from rest_framework import serializers

from api.edge.declarations import in_plant
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from drives.models import Area

AREAS = declare(
    WireRecord(
        Area,
        path="areas",
        text="An area; `path` is how others refer to it.",
        list_text="Parts of a plant.",
        key="plant code",
        scope=in_plant("plant"),
        fields="id plant code path name created_at updated_at",
        members={"path": serializers.CharField(source="__str__", read_only=True)},
        listed=ListForm(
            filters="plant code",
            search="code name",
            sortable="id code name plant",
            ordering="plant__code code",
        ),
        file=FileForm(order=90),
    )
)

"""Equipment, which drives stand on."""

from api.edge.declarations import in_plant
from api.edge.filtering import WordsFilter
from api.edge.parsing import StrictCharField
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from drives.models import Equipment

EQUIPMENT = declare(
    WireRecord(
        Equipment,
        path="equipment",
        text="A machine in an area of a plant.",
        list_text="Machines by tag.",
        key="tag",
        scope=in_plant("area__plant"),
        fields="id tag area plant name standby created_at updated_at",
        members={"plant": StrictCharField(source="area.plant.code", read_only=True)},
        related="area__plant",
        listed=ListForm(
            filters="tag plant=area__plant__code standby",
            more={"area": WordsFilter("area__code", help_text="Codes of areas, of whatever plant.")},
            search="tag name",
            sortable="tag name area",
            ordering="tag",
        ),
        file=FileForm(order=100, columns="plant tag area name standby"),
    )
)

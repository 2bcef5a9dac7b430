"""Plants."""

from api.edge.declarations import in_plant
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from drives.models import Plant

PLANTS = declare(
    WireRecord(
        Plant,
        path="plants",
        text="A plant, the storeroom whose counter serves it and its machine shop.",
        list_text="Sites with drives.",
        key="code",
        scope=in_plant("pk"),
        fields="id code name timezone storeroom machine_shop substitute_approval substitute_approver substitute_approver_phone created_at updated_at",
        listed=ListForm(
            filters="code timezone storeroom machine_shop substitute_approval",
            search="code name",
            sortable="code name",
            ordering="code",
        ),
        file=FileForm(order=80),
    )
)

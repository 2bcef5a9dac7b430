"""Supply orders, as purchasing sends them."""

from api.edge.declarations import in_storeroom
from api.wire import cells
from api.wire.declaration import Column, FileForm, WireRecord, declare
from inventory.models import SupplyOrder

SUPPLY_ORDERS = declare(
    WireRecord(
        SupplyOrder,
        path="supply-orders",
        key="source external_id",
        scope=in_storeroom("storeroom"),
        file=FileForm(
            order=170,
            columns=(
                "source external_id item storeroom quantity ordered_at promised_on received_quantity received_at emergency "
                "unit_price currency status updated_at"
            ),
            given={"updated_at": Column("updated_at", "source_updated_at", cells.moment)},
        ),
    )
)

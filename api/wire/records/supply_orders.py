"""Supply orders, as purchasing sends them."""

from api.edge.declarations import in_storeroom
from api.edge.filtering import Range
from api.wire import cells
from api.wire.declaration import Column, FileForm, ListForm, WireRecord, declare
from inventory.models import SupplyOrder

SUPPLY_ORDERS = declare(
    WireRecord(
        SupplyOrder,
        path="supply-orders",
        key="source external_id",
        scope=in_storeroom("storeroom"),
        fields=(
            "id source external_id supplier item storeroom quantity ordered_at promised_on received received_at emergency unit_price "
            "currency status updated_at outstanding created_at"
        ),
        read_only="source external_id created_at",
        listed=ListForm(
            filters="source external_id supplier item storeroom status emergency",
            numbers={"unit_price": Range(0, 10**11)},
            quantities="quantity received=received_quantity",
            moments="ordered_at received_at updated_at=source_updated_at",
            days="promised_on",
            search="external_id supplier item__stock_number item__description",
            sortable="id ordered_at received_at promised_on quantity updated_at=source_updated_at",
            ordering="-ordered_at -id",
        ),
        file=FileForm(
            order=170,
            columns=(
                "source external_id supplier item storeroom quantity ordered_at promised_on received_quantity received_at "
                "emergency unit_price currency status updated_at"
            ),
            given={"updated_at": Column("updated_at", "source_updated_at", cells.moment)},
        ),
    )
)

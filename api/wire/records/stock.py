"""Stock: what lies on the shelves, as the ledger has left it."""

from api.edge.declarations import Declaration, in_storeroom
from api.models import Role
from api.wire.declaration import ListForm, WireRecord, declare
from inventory.models import StockLevel, StockPiece

STOCK = declare(
    WireRecord(
        StockLevel,
        path="stock",
        log_key="pk",
        scope=in_storeroom("storeroom"),
        is_logged=False,
        fields=(
            "id item description=item.description unit storeroom bin condition on_hand reserved available pieces "
            "last_counted_at updated_at"
        ),
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="item storeroom bin condition unit=item__unit",
            quantities="on_hand reserved available=free",
            moments="last_counted_at",
            search="item__stock_number item__description item__maker_part_number bin__code",
            sortable="id item storeroom on_hand available=free last_counted_at updated_at",
            ordering="item__stock_number storeroom__code condition",
        ),
    )
)
PIECES = declare(Declaration(StockPiece, scope=in_storeroom("level__storeroom"), is_logged=False))

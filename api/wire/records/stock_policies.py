"""Stock policies: what is in force for an item in a storeroom, as a person set it."""

from api.edge.declarations import in_storeroom
from api.edge.filtering import Range
from api.edge.parsing import StrictIntegerField
from api.models import Role
from api.wire import cells
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from inventory.models import StockPolicy
from inventory.models.stocking import MOST_KEPT

STOCK_POLICIES = declare(
    WireRecord(
        StockPolicy,
        path="stock-policies",
        text="Order when on hand + on order - reserved has fallen to `reorder_point`, up to `order_up_to`.",
        key="item storeroom",
        scope=in_storeroom("storeroom"),
        fields=(
            "id item storeroom stocked reorder_point order_up_to reason review_on set_by_name created_at updated_at"
        ),
        read_only="set_by_name",
        members={
            "reorder_point": StrictIntegerField(
                min_value=-1,
                max_value=MOST_KEPT,
                help_text="-1, with order_up_to 0, where it is not stocked.",
            ),
        },
        write_roles=(Role.MANAGER,),
        listed=ListForm(
            filters="item storeroom stocked set_by_name",
            numbers={
                "reorder_point": Range(-1, MOST_KEPT, whole=True),
                "order_up_to": Range(0, MOST_KEPT, whole=True),
            },
            moments="updated_at",
            days="review_on",
            search="item__stock_number item__description reason set_by_name",
            sortable="id reorder_point order_up_to review_on updated_at item storeroom",
            ordering="item__stock_number storeroom__code",
        ),
        file=FileForm(
            order=180,
            parsers={"reorder_point": cells.Whole(-1, MOST_KEPT), "order_up_to": cells.Whole(0, MOST_KEPT)},
        ),
    )
)

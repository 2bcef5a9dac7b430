"""Items of the catalogue: a stock number, its words, and the specification behind it."""

from api.edge.declarations import EVERYBODY
from api.edge.filtering import Range
from api.edge.parsing import StrictIntegerField
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from inventory.models import Item

COLUMNS = "unit maker maker_part_number unit_cost currency lead_time_days stocked holding_reason lifecycle replaced_by note"
ITEMS = declare(
    WireRecord(
        Item,
        path="items",
        key="stock_number",
        scope=EVERYBODY,
        fields=(
            f"id stock_number description specification {COLUMNS} merged_into on_hand reserved available created_at updated_at"
        ),
        members={name: StrictIntegerField(read_only=True) for name in ("on_hand", "reserved", "available")},
        read_only="merged_into",
        related="specification replaced_by merged_into",
        listed=ListForm(
            filters="stock_number unit maker maker_part_number stocked holding_reason lifecycle replaced_by merged_into",
            numbers={
                "lead_time_days": Range(0, 10_000, whole=True),
                "unit_cost": Range(0, 10**11),
            },
            search="stock_number description maker_part_number maker",
            sortable=(
                "stock_number description unit_cost lead_time_days updated_at "
                "teeth=specification__teeth bore_mm=specification__bore_mm"
            ),
            ordering="stock_number",
        ),
        file=FileForm(order=130, columns=f"stock_number description {COLUMNS}"),
    )
)

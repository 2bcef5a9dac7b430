"""Movements: the lines of the ledger."""

from api.edge.auth import STOCK_ROLES
from api.edge.declarations import in_storeroom
from api.edge.filtering import Range
from api.wire import cells
from api.wire.declaration import Column, FileForm, ListForm, Lookup, WireRecord, declare
from api.wire.fields import WordField
from api.wire.recorded_verdicts import ToldVerdictField
from drives.models import Position
from inventory.models import Bin, ReasonCode, StockEntry, Storeroom
from inventory.models.fields import GREATEST_QUANTITY

MOST_PIECES = 1_000_000
LONGEST_TAG = 60
CODE = cells.Code(LONGEST_TAG)
BIN = Lookup(Bin, ("storeroom__code", "code"), ("to_storeroom|storeroom", "bin"), "bin")
TO_STOREROOM = Lookup(Storeroom, ("code",), ("to_storeroom",), "storeroom")
POSITION = Lookup(Position, ("tag",), ("position",), "position")

MOVEMENTS = declare(
    WireRecord(
        StockEntry,
        path="movements",
        key="reference",
        scope=in_storeroom("storeroom"),
        is_logged=False,
        fields=(
            "id kind item storeroom condition quantity change balance_after counted piece to_storeroom from_storeroom "
            "transfer work_order position verdict reason reason_code reference expected_back_on unit_cost currency=item.currency supplier "
            "reverses reversed_quantity reversed_by occurred_at recorded_at recorded_by=recorded_by_name notes"
        ),
        or_null="work_order position reference",
        members={
            "reason_code": WordField(ReasonCode.choices, read_only=True),
            "verdict": ToldVerdictField(),
        },
        write_roles=STOCK_ROLES,
        listed=ListForm(
            filters="item storeroom kind condition reason_code work_order position reference",
            numbers={
                "change": Range(-GREATEST_QUANTITY, GREATEST_QUANTITY, whole=True),
                "balance_after": Range(0, GREATEST_QUANTITY, whole=True),
            },
            moments="occurred_at recorded_at",
            days="expected_back_on",
            search="item__stock_number item__description reason work_order reference position",
            sortable="id occurred_at recorded_at item storeroom kind",
            ordering="-id",
        ),
        file=FileForm(
            order=140,
            columns=(
                "reference kind item storeroom condition bin quantity to_storeroom counted piece_links position "
                "work_order reason unit_cost occurred_at"
            ),
            required="reference",
            given={
                "bin": Column("bin", "bin", CODE, lookup=BIN),
                "quantity": Column("quantity", "quantity", cells.Whole(1, MOST_PIECES)),
                "to_storeroom": Column("to_storeroom", "to_storeroom", CODE, lookup=TO_STOREROOM),
                "counted": Column("counted", "counted", cells.Whole(0, MOST_PIECES)),
                "piece_links": Column("piece_links", "piece_links", cells.Whole(1, MOST_PIECES)),
                "position": Column("position", "position", CODE, lookup=POSITION),
            },
        ),
    )
)

"""Movements: the lines of the ledger, with what lies on the shelves by them."""

from api.edge.declarations import Declaration, in_storeroom
from api.wire import cells
from api.wire.declaration import Column, FileForm, Lookup, WireRecord, declare
from drives.models import Position
from inventory.models import Bin, Reservation, StockEntry, StockLevel, StockPiece, Storeroom

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
STOCK = declare(
    WireRecord(StockLevel, path="stock", scope=in_storeroom("storeroom"), log_key="pk", is_logged=False)
)
PIECES = declare(Declaration(StockPiece, scope=in_storeroom("level__storeroom"), is_logged=False))
RESERVATIONS = declare(
    WireRecord(Reservation, path="reservations", scope=in_storeroom("storeroom"), is_logged=False)
)

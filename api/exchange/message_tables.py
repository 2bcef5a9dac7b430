"""The columns of files that bring messages of the work-order feed. What they name is looked up later: it may wait."""

from decimal import Decimal

from api.exchange.tables import FileTable
from api.wire import cells
from api.wire.declaration import Column
from api.wire.records.movements import MOST_PIECES
from drives.models import InboundMessage

CODE = cells.Designation(120)
NOTE = cells.Text(2_000)
KEY = (
    Column("source", "", cells.Code(40), required=True),
    Column("external_id", "", cells.Code(60), required=True),
)
VERSION = Column("updated_at", "", cells.moment, required=True)
FAILURE = (
    Column("mechanism", "", CODE),
    Column("detected_by", "", CODE),
    Column("ended_by", "", CODE),
    Column("cause", "", cells.Text(60)),
    Column("part", "", cells.Text(40)),
    Column("removed_at", "", cells.moment),
    Column("running_hours", "", cells.Number(1, Decimal(0), Decimal(10**9 - 1)), decimal=True),
    Column("failure_note", "", NOTE),
)
"""Any of them filled says that there was a failure."""

WORK_ORDERS = FileTable(
    "work-orders",
    InboundMessage,
    ("source", "external_id", "updated_at"),
    (
        *KEY,
        VERSION,
        Column("title", "", cells.Text(200)),
        Column("kind", "", CODE),
        Column("urgency", "", cells.Designation(20)),
        Column("status", "", CODE),
        Column("position", "", cells.Code(60)),
        Column("equipment", "", cells.Code(40)),
        Column("opened_at", "", cells.moment),
        Column("closed_at", "", cells.moment),
        Column("needed_by", "", cells.day),
        Column("failure", "", cells.boolean),
        *FAILURE,
    ),
)
PARTS_USED = FileTable(
    "parts-used",
    InboundMessage,
    ("source", "external_id", "line"),
    (
        *KEY,
        Column("line", "", cells.Designation(40), required=True),
        VERSION,
        Column("item", "", cells.Code(60), required=True),
        Column("quantity", "", cells.Whole(-MOST_PIECES, MOST_PIECES), required=True),
        Column("storeroom", "", cells.Code(20)),
        Column("condition", "", cells.Designation(20)),
        Column("reason_code", "", cells.Designation(12)),
        Column("at", "", cells.moment),
    ),
)
METER_READINGS = FileTable(
    "meter-readings",
    InboundMessage,
    ("source", "external_id", "updated_at"),
    (
        *KEY,
        VERSION,
        Column("position", "", cells.Code(60), required=True),
        Column("at", "", cells.moment, required=True),
        Column("hours", "", cells.Number(1, Decimal(0), Decimal(10**11 - 1)), required=True, decimal=True),
        Column("is_reset", "", cells.boolean),
        Column("retracted", "", cells.boolean),
    ),
)
MESSAGE_TABLES = {table.kind: table for table in (WORK_ORDERS, PARTS_USED, METER_READINGS)}
FAILURE_COLUMNS = tuple(column.name for column in FAILURE)

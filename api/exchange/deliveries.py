"""Deliveries from a file: each is judged and booked in the order of the file, once by its reference."""

from typing import Any

from api.answers.core_input import core_object
from api.answers.deliveries import record_delivery
from api.exchange.checking import ParsedRow
from api.exchange.results import Report, RowOutcome
from inventory.facts import Refusal
from inventory.identification.readings import Readings
from inventory.stores.deliveries import Delivery
from inventory.stores.ledger.movement import Who

COLUMNS = {"order": "external_id", "delivered": "teeth", "by": "", "condition": ""}
"""Where the writer's word for a field is not the name of the column."""


def check_deliveries(rows: list[ParsedRow], report: Report, by: Who) -> None:
    for row in rows:
        try:
            recorded = record_delivery(delivery_of(row, by))
        except Refusal as refusal:
            report.reject(row.line, row.name, COLUMNS.get(refusal.field, refusal.field), refusal.fact)
        else:
            report.note(row.line, row.name, RowOutcome.UNCHANGED if recorded.is_known else RowOutcome.CREATED)


def delivery_of(row: ParsedRow, by: Who) -> Delivery:
    given: dict[str, Any] = {name: value for name, value in row.values.items() if value is not None}
    own = {
        name: given.pop(name)
        for name in ("order", "quantity", "reference", "wrong", "checked_at")
        if name in given
    }
    readings = core_object(Readings, given) if "teeth" in given else None
    return Delivery(
        order=own["order"],
        quantity=own["quantity"],
        reference=own["reference"],
        wrong=own.get("wrong", ""),
        at=own["checked_at"],
        readings=readings,
        by=by,
    )

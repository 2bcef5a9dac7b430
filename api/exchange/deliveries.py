"""Deliveries from a file: each is judged and booked in the order of the file, once by its reference."""

from decimal import Decimal
from typing import Any

from api.edge.change_log import log_creation, logging_changes
from api.exchange.checking import ParsedRow
from api.exchange.results import Report, RowOutcome
from api.wording.sentences import sentences
from inventory.facts import Refusal
from inventory.identification.readings import Readings
from inventory.models import SupplyOrder
from inventory.stores.deliveries import IncomingDelivery, Recorded, record_delivery
from inventory.stores.ledger.movement import Who

COLUMNS = {"order": "external_id", "delivered": "teeth", "by": "", "condition": ""}
"""Where the writer's word for a field is not the name of the column."""


def check_deliveries(rows: list[ParsedRow], report: Report, by: Who) -> None:
    for row in rows:
        try:
            recorded = recorded_of(delivery_of(row, by))
        except Refusal as refusal:
            report.reject(row.line, row.name, COLUMNS.get(refusal.field, refusal.field), refusal.fact)
        else:
            report.note(row.line, row.name, RowOutcome.UNCHANGED if recorded.is_known else RowOutcome.CREATED)


def recorded_of(delivery: IncomingDelivery) -> Recorded:
    with logging_changes(SupplyOrder.objects.filter(pk=delivery.order.pk)):
        recorded = record_delivery(delivery, in_words=sentences)
    if not recorded.is_known:
        log_creation(recorded.check)
    return recorded


def number_of(value: Any) -> Any:
    return float(value) if isinstance(value, Decimal) else int(value)


def delivery_of(row: ParsedRow, by: Who) -> IncomingDelivery:
    given: dict[str, Any] = {name: value for name, value in row.values.items() if value is not None}
    own = {
        name: given.pop(name)
        for name in ("order", "quantity", "reference", "wrong", "checked_at")
        if name in given
    }
    readings = None
    if "teeth" in given:
        readings = Readings(**{name: number_of(value) for name, value in given.items()})
    return IncomingDelivery(
        order=own["order"],
        quantity=own["quantity"],
        reference=own["reference"],
        wrong=own.get("wrong", ""),
        at=own["checked_at"],
        readings=readings,
        by=by,
    )

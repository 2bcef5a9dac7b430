"""Supply orders from a file.

Without `updated_at`, the newest date in a row is its version. A row older than the record changes nothing; one of the same
version with other content is refused, because nobody can say which is right.
"""

from datetime import datetime

from django.db.models import QuerySet

from api.edge.change_log import logging_changes
from api.edge.scope import is_visible
from api.exchange.checking import ParsedRow, batches
from api.exchange.results import Report, RowOutcome
from inventory.facts import Fact, fact
from inventory.models import SupplyOrder
from inventory.stores.ledger.movement import Who
from inventory.stores.supply_orders import CONTENT, SupplyRefusal, Upserted, upsert_many

COLUMNS = {"received": "received_quantity"}
"""Where the writer's word for a field is not the name of the column."""
OrderKey = tuple[str, str]


def upsert_orders(rows: list[ParsedRow], report: Report, by: Who) -> None:
    known = recorded(rows)
    rows = [row for row in rows if may_change(row, known.get(key_of(row)), report)]
    drafts = [draft_of(row, known.get(key_of(row))) for row in rows]
    with logging_changes(*of_numbers(rows)):
        outcomes = upsert_many(drafts)
    for row, draft, outcome in zip(rows, drafts, outcomes, strict=True):
        if isinstance(outcome, SupplyRefusal):
            column = COLUMNS.get(outcome.field, outcome.field)
            report.reject(row.line, row.name, column, outcome.fact)
        elif is_undecided(draft, outcome):
            report.reject(row.line, row.name, "updated_at", undecided(draft, outcome.order))
        else:
            report.note(row.line, row.name, fate_of(outcome))


def may_change(row: ParsedRow, before: SupplyOrder | None, report: Report) -> bool:
    if before is None or is_visible(before):
        return True
    report.reject(row.line, row.name, "", fact("record_outside_reach"))
    return False


def key_of(row: ParsedRow) -> OrderKey:
    return row.values["source"], row.values["external_id"]


def recorded(rows: list[ParsedRow]) -> dict[OrderKey, SupplyOrder]:
    return {(order.source, order.external_id): order for orders in of_numbers(rows) for order in orders}


def of_numbers(rows: list[ParsedRow]) -> list[QuerySet[SupplyOrder]]:
    numbers = sorted({row.values["external_id"] for row in rows})
    return [SupplyOrder.objects.filter(external_id__in=batch) for batch in batches(numbers)]


def draft_of(row: ParsedRow, before: SupplyOrder | None) -> SupplyOrder:
    """The row as an order; a missing column keeps the recorded value."""
    recorded_values = {name: getattr(before, name) for name in CONTENT} if before is not None else {}
    draft = SupplyOrder(**recorded_values)
    for name, value in row.values.items():
        setattr(draft, name, value)
    if draft.source_updated_at is None:
        draft.source_updated_at = newest_date(draft)
    return draft


def newest_date(order: SupplyOrder) -> datetime:
    return max(order.ordered_at, order.received_at or order.ordered_at)


def is_undecided(draft: SupplyOrder, outcome: Upserted) -> bool:
    as_new = draft.source_updated_at == outcome.order.source_updated_at
    return not outcome.applied and not outcome.is_same and as_new


def undecided(draft: SupplyOrder, stands: SupplyOrder) -> Fact:
    other = [name.removesuffix("_id") for name in CONTENT if getattr(draft, name) != getattr(stands, name)]
    return fact("same_version_other_content", differs=", ".join(other))


def fate_of(outcome: Upserted) -> RowOutcome:
    if outcome.created:
        return RowOutcome.CREATED
    return RowOutcome.UPDATED if outcome.applied else RowOutcome.UNCHANGED

"""What lies on the shelves when a plant begins: booked once for each shelf, as the first line of its ledger."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from api.edge.change_log import tell_created
from api.exchange.booking import lengths
from api.exchange.checking import ParsedRow
from api.exchange.results import Report, RowOutcome
from inventory.facts import fact
from inventory.models import Condition, MovementKind, StockEntry
from inventory.stores.ledger import LedgerRefusal, Movement, book_many
from inventory.stores.ledger.movement import Who

REASON = "opening balance"
MARKS = {Condition.NEW: "", Condition.USED_SERVICEABLE: ":used", Condition.ON_HOLD: ":hold"}
COLUMNS = {"reference": "", "by": "", "pieces": "piece_links", "occurred_at": "counted_at"}
"""Where the ledger's word for a field is not the name of the column."""
ShelfKey = tuple[int, int, str]


@dataclass
class OpeningShelf:
    """What the ledger says of a shelf: its opening balance that stands, how many were booked and reversed, and the rest."""

    opening: StockEntry | None = None
    openings: int = 0
    has_other: bool = False


def book_opening_balances(rows: list[ParsedRow], report: Report, by: Who) -> None:
    """Nothing is booked twice: the same again changes nothing, and another quantity, or a shelf in use, is refused."""
    shelves = shelves_of(rows)
    sound = [(row, movement) for row in rows if (movement := movement_of(row, shelves, report, by))]
    results = book_many([movement for _, movement in sound])
    for (row, _), outcome in zip(sound, results, strict=True):
        if isinstance(outcome, LedgerRefusal):
            report.reject(row.line, row.name, COLUMNS.get(outcome.field, outcome.field), outcome.fact)
        else:
            report.note(row.line, row.name, RowOutcome.CREATED)
            tell_created(StockEntry, [entry.pk for entry in outcome.entries])


def key_of(values: dict[str, Any]) -> ShelfKey:
    return values["item"].pk, values["storeroom"].pk, values.get("condition") or Condition.NEW


def reference_of(row: ParsedRow, openings: int) -> str:
    """Of the shelf; numbered where earlier ones were reversed."""
    mark = MARKS[Condition(row.values.get("condition") or Condition.NEW)]
    number = f" ({openings + 1})" if openings else ""
    return f"opening:{row.values['item'].stock_number}{mark}{number}"


def shelves_of(rows: Sequence[ParsedRow]) -> dict[ShelfKey, OpeningShelf]:
    """One query for all rows."""
    keys = {key_of(row.values) for row in rows}
    wanted = Q(item__in={item for item, _, _ in keys}, storeroom__in={room for _, room, _ in keys})
    found = {key: OpeningShelf() for key in keys}
    for entry in StockEntry.objects.filter(wanted, reverses__isnull=True).with_net().order_by("pk"):
        shelf = found.get((entry.item_id, entry.storeroom_id, entry.condition))
        if shelf is None:
            continue
        if entry.reference.startswith("opening:") and entry.reason == REASON:
            shelf.openings += 1
            shelf.opening = entry if entry.net else shelf.opening
        elif entry.net or not entry.change:
            shelf.has_other = True
    return found


def movement_of(
    row: ParsedRow, shelves: dict[ShelfKey, OpeningShelf], report: Report, by: Who
) -> Movement | None:
    """None where there is nothing to book, which is then reported."""
    values, quantity = row.values, row.values["quantity"]
    shelf = shelves[key_of(values)]
    if shelf.opening is not None and shelf.opening.change == quantity:
        report.note(row.line, row.name, RowOutcome.UNCHANGED)
    elif shelf.opening is not None:
        booked = fact("opening_booked_otherwise", booked=shelf.opening.change, quantity=quantity)
        report.reject(row.line, row.name, "quantity", booked)
    elif shelf.has_other:
        report.reject(row.line, row.name, "item", fact("shelf_has_movements"))
    elif quantity == 0:
        report.note(row.line, row.name, RowOutcome.UNCHANGED)
    else:
        links = values.get("piece_links")
        return Movement(
            kind=MovementKind.RECEIPT,
            item=values["item"],
            storeroom=values["storeroom"],
            condition=values.get("condition") or Condition.NEW,
            bin=values.get("bin"),
            quantity=quantity,
            pieces=lengths(quantity, links) if links else None,
            unit_cost=values.get("unit_cost"),
            occurred_at=values.get("counted_at"),
            reason=REASON,
            reference=reference_of(row, shelf.openings),
            by=by,
        )
    return None

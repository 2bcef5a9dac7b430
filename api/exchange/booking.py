"""Movements from a file, posted in the order of the file."""

from api.edge.change_log import tell_created
from api.exchange.checking import ParsedRow
from api.exchange.results import Report, RowOutcome
from drives.substitutes.past_verdicts import keep_issue_verdicts
from inventory.facts import fact
from inventory.models import Condition, MovementKind, StockEntry
from inventory.stores.ledger import LedgerRefusal, Movement, book_many
from inventory.stores.ledger.movement import Who

COLUMNS = {"piece": "piece_links", "pieces": "piece_links", "by": ""}
"""Where the ledger's word for a field is not the name of the column."""


def book_movements(rows: list[ParsedRow], report: Report, by: Who) -> None:
    sound = [(row, movement) for row in rows if (movement := movement_of(row, report, by)) is not None]
    results = book_many([movement for _, movement in sound])
    fresh = [one for one in results if not isinstance(one, LedgerRefusal) and not one.is_replay]
    keep_issue_verdicts(one.entry for one in fresh)
    tell_created(StockEntry, [entry.pk for one in fresh for entry in one.entries])
    for (row, _), outcome in zip(sound, results, strict=True):
        if isinstance(outcome, LedgerRefusal):
            report.reject(row.line, row.name, COLUMNS.get(outcome.field, outcome.field), outcome.fact)
        else:
            report.note(row.line, row.name, RowOutcome.UNCHANGED if outcome.is_replay else RowOutcome.CREATED)


def movement_of(row: ParsedRow, report: Report, by: Who) -> Movement | None:
    values = {name: value for name, value in row.values.items() if value is not None}
    quantity, links = values.get("quantity"), values.pop("piece_links", None)
    if links is not None and values["kind"] not in (MovementKind.RECEIPT, MovementKind.RETURN):
        report.reject(row.line, row.name, "piece_links", fact("piece_lengths_not_expected"))
        return None
    position = values.pop("position", None)
    return Movement(
        by=by,
        condition=values.pop("condition", None) or Condition.NEW,
        position=position.tag if position is not None else "",
        pieces=lengths(quantity, links) if quantity and links else None,
        **values,
    )


def lengths(quantity: int, links: int) -> list[int]:
    """Chain that came in pieces of so many links, the last one perhaps shorter."""
    whole, rest = divmod(quantity, links)
    return [links] * whole + ([rest] if rest else [])

"""Items replaced by others, which may stand further down in the same file."""

from collections.abc import Sequence

from api.exchange.bulk import update
from api.exchange.checking import InFile, ParsedRow, batches
from api.exchange.results import Report, RowOutcome
from inventory.facts import fact
from inventory.models import Item

FIELD = "replaced_by"


def refuse_circles(rows: Sequence[ParsedRow], report: Report) -> None:
    """Report each row whose successors lead back to it, over what is recorded and what the file says."""
    said = {row.key[0]: row.cells[FIELD] for row in rows if FIELD in row.cells}
    if not any(said.values()):
        return
    recorded = Item.objects.filter(replaced_by__isnull=False).values_list(
        "stock_number", "replaced_by__stock_number"
    )
    successor = {**dict(recorded), **said}
    for row in rows:
        if said.get(row.key[0]) and leads_back(row.key[0], successor):
            report.reject(row.line, row.name, FIELD, fact("successors_lead_back", item=row.name))


def leads_back(start: str, successor: dict[str, str | None]) -> bool:
    seen = {start}
    at = successor.get(start)
    while at is not None and at not in seen:
        seen.add(at)
        at = successor.get(at)
    return at == start


def refuse_without_successor(rows: Sequence[ParsedRow], report: Report) -> None:
    """Report each row whose successor is a row that was rejected, and so on back along the line."""
    predecessors: dict[str, list[ParsedRow]] = {}
    for row in rows:
        if isinstance(link := row.values.get(FIELD), InFile):
            predecessors.setdefault(link.key, []).append(row)
    sound = {row.key[0] for row in rows if not report.is_rejected(row.line)}
    rejected = [key for key in predecessors if key not in sound]
    while rejected:
        key = rejected.pop()
        for row in predecessors.get(key, ()):
            if not report.is_rejected(row.line):
                report.reject(row.line, row.name, FIELD, fact("successor_rejected", successor=key))
                rejected.append(row.key[0])


def link_successors(written: Sequence[tuple[ParsedRow, Item]], report: Report) -> None:
    """Link successors that were created by the same file."""
    waiting = [
        (row, item, link) for row, item in written if isinstance(link := row.values.get(FIELD), InFile)
    ]
    numbers = sorted({link.key for _, _, link in waiting})
    made = {
        item.stock_number: item
        for batch in batches(numbers)
        for item in Item.objects.filter(stock_number__in=batch)
    }
    linked: list[tuple[Item, set[str]]] = []
    for row, item, link in waiting:
        item.replaced_by = made[link.key]
        linked.append((item, {FIELD}))
        report.upgrade(row.line, RowOutcome.UPDATED)
    update(linked)

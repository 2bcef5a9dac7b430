"""Installations and inspections from a file.

Recorded history is not changed: a repeated row changes nothing, a row that adds the end of a life records the removal,
and a row that contradicts the record is refused.
"""

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from django.db import models

from api.edge.change_log import log_columns_created, logging_changes
from api.exchange.checking import ParsedRow, batches
from api.exchange.results import Report, RowOutcome
from drives.models import Inspection, Installation
from drives.service_record import history
from drives.service_record.history import END_FIELDS, HistoryRefusal
from drives.service_record.many import InspectionsOfPositions, UnitsOfPositions
from drives.substitutes.past_verdicts import keep_unit_verdicts
from inventory.facts import fact
from inventory.plumbing.many_rows import columns_of
from inventory.stores.ledger.movement import Who, name_of

COLUMNS = {"installation": "position", "specification": "item"}
"""Where the history's word for a field is not the name of the column."""
Recorder = Callable[[dict[str, Any]], RowOutcome]


def record_installations(rows: list[ParsedRow], report: Report, by: Who) -> None:
    """Record units in the order in which they were fitted, so that each position is free when its row comes."""
    units = UnitsOfPositions(positions_of(rows))
    ended = [
        unit.pk
        for row in rows
        if row.values.get("removed_at")
        and (unit := units.find(row.values["position"], row.values["installed_at"]))
        and unit.removed_at is None
    ]
    with logging_changes(*(Installation.objects.filter(pk__in=batch) for batch in batches(ended))):
        record_each(sorted(rows, key=fitted_first), report, lambda given: fit(units, given))
    fitted = units.save()
    keep_unit_verdicts(fitted, name_of(by))
    log_new(Installation, fitted)


def record_inspections(rows: list[ParsedRow], report: Report, by: Who) -> None:
    inspections = InspectionsOfPositions(positions_of(rows))
    record_each(rows, report, lambda given: inspect(inspections, given))
    log_new(Inspection, inspections.save())


def positions_of(rows: list[ParsedRow]) -> set[int]:
    return {row.values["position"].pk for row in rows}


def log_new(model: type[models.Model], records: Sequence[models.Model]) -> None:
    for batch in batches(records):
        log_columns_created(model, [record.pk for record in batch], columns_of(model, batch))


def fitted_first(row: ParsedRow) -> tuple[datetime, int]:
    return row.values["installed_at"], row.line


def record_each(rows: list[ParsedRow], report: Report, record: Recorder) -> None:
    for row in rows:
        try:
            outcome = record({name: value for name, value in row.values.items() if value not in (None, "")})
        except HistoryRefusal as refusal:
            report.reject(row.line, row.name, COLUMNS.get(refusal.field, refusal.field), refusal.fact)
        else:
            report.note(row.line, row.name, outcome)


def fit(units: UnitsOfPositions, given: dict[str, Any]) -> RowOutcome:
    before = units.find(given["position"], given["installed_at"])
    if before is None:
        if "removed_at" not in given and (name := next((n for n in END_FIELDS if n in given), None)):
            raise HistoryRefusal(fact("removal_without_date", field=name), field=name)
        units.record(**given)
        return RowOutcome.CREATED
    if before.removed_at is None and "removed_at" in given:
        end = {name: given.pop(name) for name in END_FIELDS if name in given}
        if given.get("note", "") not in before.note:
            end["note"] = given.pop("note")
        refuse_contradiction(before, given)
        units.replace(history.remove(before, **{"ended_by": "", **end}))
        return RowOutcome.UPDATED
    refuse_contradiction(before, given)
    return RowOutcome.UNCHANGED


def inspect(inspections: InspectionsOfPositions, given: dict[str, Any]) -> RowOutcome:
    before = inspections.find(given["position"], given["at"])
    if before is not None:
        refuse_contradiction(before, given)
        return RowOutcome.UNCHANGED
    inspections.record(**given)
    return RowOutcome.CREATED


def refuse_contradiction(before: Any, given: dict[str, Any]) -> None:
    """Empty cells contradict nothing, and a note may have grown since."""
    for name, value in given.items():
        stands = getattr(before, name)
        if name == "note" and value in stands:
            continue
        if stands != value:
            raise HistoryRefusal(fact("recorded_otherwise", field=name, recorded=str(stands)), field=name)

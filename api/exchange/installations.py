"""Installations and inspections from a file.

Recorded history is not changed: a repeated row changes nothing, a row that adds the end of a life records the removal,
and a row that contradicts the record is refused.
"""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any

from api.edge.change_log import logging_changes
from api.exchange.checking import ParsedRow, batches
from api.exchange.results import Report, RowOutcome
from drives.models import Inspection, Installation
from drives.service_record import history
from drives.service_record.history import END_FIELDS, HistoryRefusal
from drives.substitutes.past_verdicts import keep_unit_verdicts
from inventory.facts import fact
from inventory.stores.ledger.movement import Who, name_of

BEGIN = ("temporary_until", "approved_by", "approval_reference", "inspect_by")
COLUMNS = {"installation": "position", "specification": "item"}
"""Where the history's word for a field is not the name of the column."""
Recorder = Callable[[ParsedRow, Any], RowOutcome]


def record_installations(rows: list[ParsedRow], report: Report, by: Who) -> None:
    """Record units in the order in which they were fitted, so that each position is free when its row comes."""
    known = recorded(Installation, "installed_at", rows)
    with logging_changes(*of_positions(Installation, rows)):
        units: list[Installation] = []
        record_each(sorted(rows, key=fitted_first), report, known, partial(fit, units=units))
        keep_unit_verdicts(units, name_of(by))


def record_inspections(rows: list[ParsedRow], report: Report, by: Who) -> None:
    known = recorded(Inspection, "at", rows)
    with logging_changes(*of_positions(Inspection, rows)):
        record_each(rows, report, known, inspect)


def fitted_first(row: ParsedRow) -> tuple[datetime, int]:
    return row.values["installed_at"], row.line


def record_each(rows: list[ParsedRow], report: Report, known: dict[Any, Any], record: Recorder) -> None:
    for row in rows:
        moment = row.values.get("installed_at") or row.values["at"]
        try:
            outcome = record(row, known.get((row.values["position"].pk, moment)))
        except HistoryRefusal as refusal:
            report.reject(row.line, row.name, COLUMNS.get(refusal.field, refusal.field), refusal.fact)
        else:
            report.note(row.line, row.name, outcome)


def recorded(model: type[Any], moment: str, rows: list[ParsedRow]) -> dict[tuple[int, datetime], Any]:
    """What is known of the positions of the file, by position and moment."""
    return {
        (record.position_id, getattr(record, moment)): record
        for records in of_positions(model, rows)
        for record in records
    }


def of_positions(model: type[Any], rows: list[ParsedRow]) -> list[Any]:
    positions = sorted({row.values["position"].pk for row in rows})
    return [model.objects.filter(position__in=batch) for batch in batches(positions)]


def fit(row: ParsedRow, before: Installation | None, *, units: list[Installation]) -> RowOutcome:
    """A unit that is recorded now is added to `units`."""
    given = {name: value for name, value in row.values.items() if value not in (None, "")}
    if before is None:
        units.append(record_new(given))
        return RowOutcome.CREATED
    if before.removed_at is None and "removed_at" in given:
        end = {name: given.pop(name) for name in END_FIELDS if name in given}
        if given.get("note", "") not in before.note:
            end["note"] = given.pop("note")
        refuse_contradiction(before, given)
        history.remove(before, **{"ended_by": "", **end})
        return RowOutcome.UPDATED
    refuse_contradiction(before, given)
    return RowOutcome.UNCHANGED


def record_new(given: dict[str, Any]) -> Installation:
    """Record a finished life in one step; one with an approval is installed and then removed."""
    values = dict(given)
    position = values.pop("position")
    end = {name: values.pop(name) for name in END_FIELDS if name in values}
    if "removed_at" not in end:
        if end:
            name = next(iter(end))
            raise HistoryRefusal(fact("removal_without_date", field=name), field=name)
        return history.install(position, **values)
    if any(name in values for name in BEGIN):
        unit = history.install(position, **values)
        return history.remove(unit, **{"ended_by": "", **end})
    return history.record_past(position, **{"ended_by": "", **values, **end})


def inspect(row: ParsedRow, before: Inspection | None) -> RowOutcome:
    given = {name: value for name, value in row.values.items() if value not in (None, "")}
    if before is not None:
        refuse_contradiction(before, given)
        return RowOutcome.UNCHANGED
    history.record_inspection(given.pop("position"), **given)
    return RowOutcome.CREATED


def refuse_contradiction(before: Any, given: dict[str, Any]) -> None:
    """Empty cells contradict nothing, and a note may have grown since."""
    for name, value in given.items():
        stands = getattr(before, name)
        if name == "note" and value in stands:
            continue
        if stands != value:
            raise HistoryRefusal(fact("recorded_otherwise", field=name, recorded=str(stands)), field=name)

"""Write new and changed records in bulk; an unchanged row costs no write."""

import copy
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from api.edge.scope import visible_to_caller
from api.exchange.bulk import changed_fields, create, stored_attribute, stored_key, update
from api.exchange.checking import InFile, ParsedRow, batches
from api.exchange.results import Report, RowOutcome
from api.exchange.specifications import SpecificationWriter
from api.exchange.successors import link_successors, refuse_circles, refuse_without_successor
from api.exchange.tables import FileTable
from api.wire.invariants import adopt_standard, broken_rules
from drives.models import Plant
from inventory.facts import fact
from inventory.models import Storeroom
from inventory.models.access_scope import current_scope

PLACES = (Plant, Storeroom)
"""Callers are limited to those named to them: a new one lies outside."""


@dataclass(frozen=True)
class PlannedRow:
    """A row with its record; `changed` is None for a new one, and empty where nothing changes."""

    row: ParsedRow
    record: Any
    changed: set[str] | None

    @property
    def outcome(self) -> RowOutcome:
        if self.changed is None:
            return RowOutcome.CREATED
        return RowOutcome.UPDATED if self.changed else RowOutcome.UNCHANGED


class Upsert:
    """Write one file of plain records: each row is new, changed or unchanged."""

    def __init__(self, table: FileTable, rows: list[ParsedRow], report: Report) -> None:
        self.table, self.rows, self.report = table, rows, report
        self.columns = {column.field: column.name for column in table.columns}
        fields = {column.name: column.field for column in table.columns}
        self.fields = [fields[name] for name in table.key]
        self.planned: list[PlannedRow] = []

    def write(self) -> None:
        if self.table.names_successors:
            refuse_circles(self.rows, self.report)
        recorded = self.recorded()
        self.refuse_beyond_reach(recorded)
        for row in self.rows:
            if not self.report.is_rejected(row.line):
                self.plan(row, recorded.get(self.key_of_values(row.values)))
        specifications = SpecificationWriter(self.table, self.report)
        if self.table.specification:
            self.plan_specifications(specifications)
        if self.table.names_successors:
            refuse_without_successor(self.rows, self.report)
        self.save(specifications)

    def key_of_values(self, values: dict[str, Any]) -> tuple[Any, ...]:
        return tuple(stored_key(values.get(name)) for name in self.fields)

    def recorded(self) -> dict[tuple[Any, ...], Any]:
        """Records that the file names, by natural key. Locked in primary key order, so that two imports cannot deadlock."""
        manager = self.table.model._default_manager
        first = self.fields[0]
        asked = {stored_key(row.values.get(first)) for row in self.rows}
        found: dict[tuple[Any, ...], Any] = {}
        conditions = [
            Q(**{f"{first}__in": batch}) for batch in batches(sorted(a for a in asked if a is not None))
        ]
        if None in asked:
            conditions.append(Q(**{f"{first}__isnull": True}))
        for condition in conditions:
            chosen = manager.filter(condition).order_by("pk").select_for_update(of=("self",))
            if self.table.specification:
                chosen = chosen.select_related("specification")
            for record in chosen:
                found[tuple(stored_attribute(record, name) for name in self.fields)] = record
        return found

    def refuse_beyond_reach(self, recorded: dict[tuple[Any, ...], Any]) -> None:
        """A row may not change a record that the caller cannot see, nor add a place that it could not see."""
        if current_scope().is_whole:
            return
        manager = self.table.model._default_manager
        standing = {record.pk for record in recorded.values()}
        seen = set(visible_to_caller(manager.filter(pk__in=standing)).values_list("pk", flat=True))
        makes_places = self.table.model in PLACES
        for row in self.rows:
            record = recorded.get(self.key_of_values(row.values))
            if makes_places if record is None else record.pk not in seen:
                self.report.reject(row.line, row.name, "", fact("record_outside_reach"))

    def plan(self, row: ParsedRow, recorded: Any) -> None:
        record = copy.copy(recorded) if recorded is not None else self.table.model()
        for name, value in row.values.items():
            if not isinstance(value, InFile):
                setattr(record, name, value)
        broken = adopt_standard(record)
        changed = set() if recorded is None else changed_fields(recorded, record)
        if recorded is None or changed:
            broken += broken_rules(record)
        for name, refusal in broken:
            self.report.reject(row.line, row.name, self.columns.get(name, name), refusal)
        if broken:
            return
        self.planned.append(PlannedRow(row, record, None if recorded is None else changed))

    def plan_specifications(self, specifications: SpecificationWriter) -> None:
        """A changed specification changes its item's row in the report, and the item itself where it gets another."""
        for planned in self.planned:
            if specifications.plan(planned.row, planned.record) and planned.changed is not None:
                planned.changed.add("specification")

    def save(self, specifications: SpecificationWriter) -> None:
        sound = [planned for planned in self.planned if not self.report.is_rejected(planned.row.line)]
        specifications.save()
        create([planned.record for planned in sound if planned.changed is None])
        update([(planned.record, planned.changed) for planned in sound if planned.changed])
        specifications.remove_unused()
        for planned in sound:
            self.report.note(planned.row.line, planned.row.name, planned.outcome)
        if self.table.names_successors:
            link_successors([(planned.row, planned.record) for planned in sound], self.report)

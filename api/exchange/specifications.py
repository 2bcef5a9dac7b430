"""The specification of an item row: changed in place if no other item uses it, else a new one."""

import copy
from typing import Any

from django.db.models import Count, F

from api.edge.change_log import logging_deletion
from api.exchange.bulk import changed_fields, create, update
from api.exchange.checking import ParsedRow, batches
from api.exchange.results import Report
from api.exchange.tables import FileTable
from api.wire.invariants import adopt_standard, broken_rules
from drives.models import Installation
from inventory.facts import Fact, fact
from inventory.models import Item, Specification


class SpecificationWriter:
    def __init__(self, table: FileTable, report: Report) -> None:
        self.report = report
        self.columns = {column.field: column.name for column in table.specification}
        self.blanks = {column.field: column.blank for column in table.specification if column.name != "kind"}
        self.new: list[tuple[ParsedRow, Item, Specification]] = []
        self.changed: list[tuple[ParsedRow, Item, Specification, set[str]]] = []
        self.left: set[int] = set()

    def plan(self, row: ParsedRow, item: Item) -> bool:
        """Whether the row changes what stands behind the item."""
        given = row.specification
        if not given:
            return False
        before = item.specification
        if "kind" in given and not row.cells["kind"]:
            return self.plan_none(row, item)
        if before is None and "kind" not in given:
            if any(value != self.blanks[name] for name, value in given.items()):
                self.reject(row, "kind", fact("kind_of_part_missing"))
            return False
        after = copy.copy(before) if before is not None else Specification()
        for name, value in given.items():
            setattr(after, name, value)
        broken = adopt_standard(after)
        changed = changed_fields(before, after) if before is not None else set()
        if before is not None and not changed and not broken:
            return False
        broken += broken_rules(after)
        for name, refusal in broken:
            self.reject(row, self.columns.get(name, name), refusal)
        if not broken and before is None:
            self.new.append((row, item, after))
        elif not broken:
            self.changed.append((row, item, after, changed))
        return not broken

    def plan_none(self, row: ParsedRow, item: Item) -> bool:
        stray = [name for name, blank in self.blanks.items() if row.specification.get(name, blank) != blank]
        if stray:
            column = self.columns[stray[0]]
            self.reject(row, "kind", fact("kind_of_part_empty", column=column))
            return False
        if item.specification_id is None:
            return False
        self.left.add(item.specification_id)
        item.specification = None
        return True

    def reject(self, row: ParsedRow, column: str, refusal: Fact) -> None:
        self.report.reject(row.line, row.name, column, refusal)

    def save(self) -> None:
        """Write the specifications first: the items that refer to them are written after."""
        rejected = self.report.is_rejected
        new = [(item, after) for row, item, after in self.new if not rejected(row.line)]
        changed = [entry for entry in self.changed if not rejected(entry[0].line)]
        shared = shared_by_others({after.pk for _, _, after, _ in changed})
        in_place: list[tuple[Any, set[str]]] = []
        for _, item, after, fields in changed:
            if after.pk in shared:
                after.pk = None
                after._state.adding = True
                new.append((item, after))
            else:
                in_place.append((after, fields))
        create([after for _, after in new])
        update(in_place)
        for item, after in new:
            item.specification = after

    def remove_unused(self) -> None:
        """Delete specifications that no item uses any more."""
        for batch in batches(sorted(self.left)):
            unused = Specification.objects.filter(pk__in=batch, items=None, installations=None)
            with logging_deletion(list(unused)):
                unused.delete()


def shared_by_others(ids: set[int]) -> set[int]:
    """Which of the specifications stand behind more than one item, or behind something fitted that is none of it."""
    found: set[int] = set()
    for batch in batches(sorted(ids)):
        counted = (
            Item.objects.filter(specification__in=batch).values("specification").annotate(users=Count("pk"))
        )
        found.update(row["specification"] for row in counted if row["users"] > 1)
        fitted = Installation.objects.filter(specification__in=batch).exclude(
            item__specification=F("specification"), item__isnull=False
        )
        found.update(pk for pk in fitted.values_list("specification", flat=True) if pk is not None)
    return found

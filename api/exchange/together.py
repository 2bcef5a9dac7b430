"""Several sheets in one go, in the order of loading: all rows of all of them, or none."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.db import models, transaction

from api.edge.change_log import changes_told_to, names_of
from api.exchange.checking import batches
from api.exchange.kind_proposals import every_table
from api.exchange.progress import JoinedProgress
from api.exchange.reading import Sheet
from api.exchange.results import CellChange, ImportResult, RowOutcome, RowResult
from api.exchange.run import run_import
from api.exchange.tables import KINDS
from api.exchange.writing import one_import_at_a_time
from api.models import ImportedChange, ImportSet
from inventory.models import Item, Specification
from inventory.plumbing.many_rows import insert_columns
from inventory.stores.ledger.movement import Who

MOST_CHANGES = 5_000
"""Changed records of one sheet whose values are listed; more are counted."""


@dataclass(frozen=True)
class KindSheet:
    """`told` changes a result into the words of the file."""

    kind: str
    sheet: Sheet
    told: Callable[[ImportResult], ImportResult] = lambda result: result


@dataclass
class ChangedRecord:
    model: type[models.Model]
    pk: Any
    before: dict[str, Any]
    after: dict[str, Any]


class Journal:
    """What is written, in its order: kept for the undoing of a set, and the changes to show beside their rows."""

    def __init__(self, owner: ImportSet | None) -> None:
        self.owner = owner
        self.changed: list[ChangedRecord] = []

    def __call__(
        self,
        model: type[models.Model],
        keys: Sequence[Any],
        action: str,
        before: Sequence[str],
        after: Sequence[str],
    ) -> None:
        if action == "change":
            for key, was, now in zip(keys, before, after, strict=True):
                if len(self.changed) < MOST_CHANGES:
                    self.changed.append(ChangedRecord(model, key, json.loads(was), json.loads(now)))
        if self.owner is not None and keys:
            size = len(keys)
            columns: dict[str, Sequence[Any]] = {
                "set_id": [self.owner.pk] * size,
                "model": [model._meta.label_lower] * size,
                "record_id": list(keys),
                "is_new": [action == "create"] * size,
                "before": before,
                "after": after,
            }
            insert_columns(ImportedChange, columns)

    def taken(self) -> list[ChangedRecord]:
        """The changes since the last call."""
        found, self.changed = self.changed, []
        return found


def import_together(
    sheets: Sequence[KindSheet],
    *,
    dry_run: bool,
    by: Who,
    author: str,
    owner: ImportSet | None = None,
    progress: JoinedProgress | None = None,
    seal: Callable[[list[ImportResult]], None] | None = None,
) -> list[ImportResult]:
    """A result for each sheet, in the order in which they are given.

    Rows that are good are written even where others are refused, so that later sheets find what they name; where any row is
    refused, or in a dry run, all of it is taken back at the end. `seal` is called
    with the results in the transaction that writes the rows.
    """
    order = sorted(range(len(sheets)), key=lambda place: KINDS.index(sheets[place].kind))
    results: dict[int, ImportResult] = {}
    journal = Journal(None if dry_run else owner)
    counted = progress or JoinedProgress([one.sheet.expected_rows for one in sheets])
    with transaction.atomic(), changes_told_to(journal):
        one_import_at_a_time()
        for place in order:
            one = sheets[place]
            found = run_import(
                one.kind, one.sheet, partial=True, by=by, author=author, progress=counted.begin()
            )
            results[place] = one.told(with_changes(found, journal.taken()))
        is_written = not dry_run and all(result.is_accepted for result in results.values())
        final = [replace(results[place], dry_run=dry_run, written=is_written) for place in range(len(sheets))]
        if is_written and seal is not None:
            seal(final)
        if not is_written:
            transaction.set_rollback(True)
    return final


def with_changes(result: ImportResult, changed: Iterable[ChangedRecord]) -> ImportResult:
    """The result with the changed values beside the rows that changed them."""
    by_key: dict[str, list[CellChange]] = {}
    for key, changes in named_changes(every_table()[result.kind].model, changed):
        by_key.setdefault(key, []).extend(changes)
    if not by_key:
        return result
    rows = tuple(row_with(row, by_key) for row in result.row_results)
    return replace(result, row_results=rows)


def row_with(row: RowResult, by_key: Mapping[str, list[CellChange]]) -> RowResult:
    if row.outcome != RowOutcome.UPDATED:
        return row
    return replace(row, changes=tuple(by_key.get(row.key.replace(" / ", "/"), ())))


def named_changes(
    model: type[models.Model], changed: Iterable[ChangedRecord]
) -> Iterator[tuple[str, list[CellChange]]]:
    """By the natural key of the record that the file is about: a specification is found by its item."""
    known: dict[tuple[type[models.Model], Any], str | None] = {}
    for batch in batches(changed):
        for of_model in {one.model for one in batch}:
            records = [one for one in batch if one.model is of_model]
            names = names_in_file(model, of_model, [one.pk for one in records])
            for one in records:
                if one.pk in names:
                    yield names[one.pk], list(cell_changes(one, known))


def names_in_file(
    model: type[models.Model], changed: type[models.Model], keys: Sequence[Any]
) -> dict[Any, str]:
    if changed is Specification and model is Item:
        return dict(Item.objects.filter(specification__in=keys).values_list("specification", "stock_number"))
    return {pk: name for pk, (name, *_) in names_of(changed, keys).items()}


def cell_changes(
    one: ChangedRecord, known: dict[tuple[type[models.Model], Any], str | None]
) -> Iterator[CellChange]:
    for name in one.after | one.before:
        field: Any = one.model._meta.get_field(name)
        values = [one.before.get(name), one.after.get(name)]
        if field.is_relation:
            values = [name_of_record(field.related_model, value, known) for value in values]
        yield CellChange(name, *values)


def name_of_record(
    model: type[models.Model], pk: Any, known: dict[tuple[type[models.Model], Any], str | None]
) -> str | None:
    if pk is None:
        return None
    if (model, pk) not in known:
        found = names_of(model, [pk])
        known[model, pk] = found[pk][0] if pk in found else None
    return known[model, pk]

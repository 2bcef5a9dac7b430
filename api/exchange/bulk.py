"""New and changed records by column, with their change log."""

from collections.abc import Sequence
from typing import Any

from django.db import models

from api.edge.change_log import log_columns_changed, log_columns_created
from inventory.plumbing.many_rows import Columns, insert_columns, new_keys, update_columns


def create(model: type[models.Model], columns: Columns, keys: Sequence[Any] | None = None) -> Sequence[Any]:
    """Insert rows with all their columns; gives their keys."""
    size = len(next(iter(columns.values())))
    if not size:
        return ()
    made = new_keys(model, size) if keys is None else keys
    insert_columns(model, {"id": made, **columns})
    log_columns_created(model, made, columns)
    return made


def update(model: type[models.Model], keys: Sequence[Any], before: Columns, after: Columns) -> None:
    """Update the columns in which some row differs, and the stamp of every row."""
    if not keys:
        return
    names = [name for name, column in after.items() if column != before[name]]
    update_columns(model, keys, {name: after[name] for name in names})
    log_columns_changed(model, keys, before, after)

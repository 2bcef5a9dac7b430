"""Many records in few statements."""

from collections.abc import Sequence
from typing import Any

from django.db import models
from django.utils import timezone

from api.edge.change_log import RecordChange, RecordValues, rows_of, values_of, write_changes

WRITTEN_AT_ONCE = 500


def stored_key(value: Any) -> Any:
    return value.pk if isinstance(value, models.Model) else value


def stored_attribute(record: models.Model, name: str) -> Any:
    field = record._meta.get_field(name)
    return getattr(record, getattr(field, "attname", name))


def changed_fields(before: models.Model, after: models.Model) -> set[str]:
    """Names of the fields in which two states of one record differ."""
    return {
        field.name
        for field in before._meta.concrete_fields
        if getattr(before, field.attname) != getattr(after, field.attname)
    }


def create(records: Sequence[Any]) -> None:
    if records:
        model = type(records[0])
        model._default_manager.bulk_create(records, batch_size=WRITTEN_AT_ONCE)
        write_changes(model, [RecordChange(record.pk, None, values_of(record)) for record in records])


def update(entries: Sequence[tuple[Any, set[str]]]) -> None:
    if not entries:
        return
    names = sorted(set().union(*(fields for _, fields in entries)))
    records = [record for record, _ in entries]
    model = type(records[0])
    if any(field.name == "updated_at" for field in model._meta.concrete_fields):
        now = timezone.now()
        for record in records:
            record.updated_at = now
        names.append("updated_at")
    before = recorded_values(model, records)
    model._default_manager.bulk_update(records, names, batch_size=WRITTEN_AT_ONCE)
    write_changes(
        model, [RecordChange(record.pk, before.get(record.pk, {}), values_of(record)) for record in records]
    )


def recorded_values(model: type[models.Model], records: Sequence[Any]) -> dict[Any, RecordValues]:
    """Their recorded values."""
    keys = [record.pk for record in records]
    batches = (keys[start : start + WRITTEN_AT_ONCE] for start in range(0, len(keys), WRITTEN_AT_ONCE))
    return rows_of(model._default_manager.filter(pk__in=batch) for batch in batches)

"""Which tables an archive holds, and how a row travels: as JSON that either database reads back exactly."""

import base64
import json
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import connection, models
from django.db.migrations.recorder import MigrationRecorder

# Who is logged in and who is at work: neither holds after a restore.
LEFT_OUT = frozenset({"django_session", "inventory_lease"})
# What a migrated database holds by itself.
GIVEN = frozenset({"django_content_type", "auth_permission", "auth_group", "auth_group_permissions"})
FETCHED_AT_ONCE = 1_000

Model = type[models.Model]


def every_model() -> list[Model]:
    """Each table once, by name."""
    found = {
        model._meta.db_table: model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy
    }
    return [found[name] for name in sorted(found)]


def kept_models() -> list[Model]:
    return [model for model in every_model() if model._meta.db_table not in LEFT_OUT]


def columns(model: Model) -> list[Any]:
    return [one for one in model._meta.concrete_fields if not getattr(one, "generated", False)]


def column_names(model: Model) -> list[str]:
    return [str(one.column) for one in columns(model)]


def applied_migrations() -> list[str]:
    return sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations())


def rows_of(model: Model) -> Iterator[bytes]:
    """A line of JSON for each row, in the order of the key."""
    names = [one.attname for one in columns(model)]
    rows = model._base_manager.order_by("pk").values_list(*names)
    for row in rows.iterator(chunk_size=FETCHED_AT_ONCE):
        yield json.dumps([plain(value) for value in row], ensure_ascii=False).encode() + b"\n"


def plain(value: Any) -> Any:
    """JSON of a column. What JSON has no word for becomes text that the column understands."""
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, Decimal | UUID):
        return str(value)
    if isinstance(value, timedelta):
        return value // timedelta(microseconds=1)
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode()
    return value


def row_from(fields: Sequence[Any], line: bytes) -> list[Any]:
    """The values of a line as the database takes them; ValueError where the line does not fit the table."""
    values = json.loads(line)
    if not isinstance(values, list) or len(values) != len(fields):
        raise ValueError(f"{len(fields)} values are expected")
    return [
        field.get_db_prep_save(understood(field, value), connection)
        for field, value in zip(fields, values, strict=True)
    ]


def understood(field: Any, value: Any) -> Any:
    if value is None or isinstance(field, models.JSONField):
        return value
    if isinstance(field, models.BinaryField):
        return base64.b64decode(value)
    if isinstance(field, models.DurationField):
        return timedelta(microseconds=value)
    return field.target_field.to_python(value) if field.is_relation else field.to_python(value)

"""A database that has only some of the migrations which have become one would be taken for migrated, and is not."""

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections
from django.db.migrations.loader import MigrationLoader


@register(Tags.database)
def replaced_migrations_are_whole(databases: Sequence[str] | None = None, **more: Any) -> list[CheckMessage]:
    return [error for alias in databases or () for error in partly_replaced(alias)]


def partly_replaced(alias: str) -> list[CheckMessage]:
    loader = MigrationLoader(connections[alias], ignore_no_migrations=True)
    found: list[CheckMessage] = []
    for migration in loader.replacements.values():
        missing = sorted(set(migration.replaces) - set(loader.applied_migrations))
        if missing and len(missing) < len(migration.replaces):
            names = ", ".join(name for _, name in missing)
            wrong = f"The database lacks {names} of {migration.app_label}, which this version does not have any more."
            hint = "Install the version before this one and run `migrate`, then do the same with this one."
            found.append(Error(wrong, hint=hint, id="api.E001"))
    return found

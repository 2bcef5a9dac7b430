"""What the two databases do differently: triggers that refuse, and the numbers they give next."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, models

from api.operations.backup.tables import Model, every_model


def quoted(name: str) -> str:
    return connection.ops.quote_name(name)


def has_numbers(model: Model) -> bool:
    return isinstance(model._meta.pk, models.AutoField | models.BigAutoField | models.SmallAutoField)


def last_id(model: Model) -> int | None:
    """The greatest id that was ever given, also to rows that are gone: it must not be given again."""
    if not has_numbers(model):
        return None
    table, key = model._meta.db_table, str(model._meta.pk.column)
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
            found = cursor.fetchone()
            return int(found[0]) if found else 0
        cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [quoted(table), key])
        (sequence,) = cursor.fetchone()
        cursor.execute(f"SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM {sequence}")
        return int(cursor.fetchone()[0])


def set_last_id(model: Model, number: int) -> None:
    table, key = model._meta.db_table, str(model._meta.pk.column)
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table])
            cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, number])
        else:
            sequence = "pg_get_serial_sequence(%s, %s)"
            cursor.execute(
                f"SELECT setval({sequence}, %s, %s)", (quoted(table), key, max(number, 1), number > 0)
            )


@contextmanager
def without_triggers() -> Iterator[None]:
    """The triggers that keep the ledger and the change log step aside, in this transaction alone.

    On SQLite. Those of PostgreSQL let rows be put in and tables be emptied, and what others keep must be kept now too.
    """
    assert connection.in_atomic_block
    if connection.vendor != "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY rowid")
        triggers = cursor.fetchall()
        for name, _ in triggers:
            cursor.execute(f"DROP TRIGGER {quoted(name)}")
        yield
        for _, sql in triggers:
            # Straight to the driver: a percent sign in a trigger is no parameter.
            connection.connection.execute(sql)


def empty_everything() -> None:
    """Every table, those that an archive leaves out too."""
    names = [model._meta.db_table for model in every_model()]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("TRUNCATE " + ", ".join(quoted(name) for name in names))
            return
        # In any order: the keys are checked at the end.
        cursor.execute("PRAGMA defer_foreign_keys = ON")
        for name in names:
            cursor.execute(f"DELETE FROM {quoted(name)}")

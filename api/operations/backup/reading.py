"""A restore: the archive is proved whole before a single row is touched, and then everything changes or nothing."""

import hashlib
import json
import zipfile
import zlib
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any

from django.db import Error as DatabaseFault
from django.db import connection, transaction
from django.db.models import Max

from api.operations.backup.engines import empty_everything, quoted, set_last_id, without_triggers
from api.operations.backup.tables import (
    GIVEN,
    Model,
    applied_migrations,
    column_names,
    columns,
    kept_models,
    row_from,
)
from api.operations.backup.writing import FORMAT, MANIFEST, Table
from inventory.models import Event
from inventory.plumbing import events
from inventory.plumbing.leases import database_now

ROWS_AT_ONCE = 500
LONGEST_MANIFEST = 5_000_000
# Numbers that the events lost since the backup had; more are not given between two backups.
SEQUENCE_GAP = 1_000_000
NAMED_AT_MOST = 5


class ArchiveRefused(ValueError):  # noqa: N818 - a refusal, not an error
    """The archive cannot be restored here; the message says why."""


class DatabaseNotEmpty(ValueError):  # noqa: N818
    """A restore would overwrite what is there."""


def restore(path: Path, *, may_replace: bool) -> list[Table]:
    """Put the database into the state of the archive. It must be of the same migrations, and whole."""
    try:
        with zipfile.ZipFile(path) as archive:
            tables = read_manifest(archive)
            for table in tables:
                check_table(archive, table)
            if not may_replace and (found := what_is_there()):
                raise DatabaseNotEmpty(f"The database is not empty: it holds {', '.join(found)}.")
            load(archive, tables)
    except (zipfile.BadZipFile, zlib.error, EOFError) as error:
        raise ArchiveRefused(f"It is not a complete archive: {error}.") from error
    return tables


def read_manifest(archive: zipfile.ZipFile) -> list[Table]:
    if MANIFEST not in archive.namelist():
        raise ArchiveRefused(f"It holds no {MANIFEST}: it is not a backup of this service.")
    if archive.getinfo(MANIFEST).file_size > LONGEST_MANIFEST:
        raise ArchiveRefused(f"{MANIFEST} is too long.")
    try:
        said = json.loads(archive.read(MANIFEST))
        if said["format"] != FORMAT:
            raise ArchiveRefused(f"It has format {said['format']}; this version reads format {FORMAT}.")
        tables, migrations = [Table(**one) for one in said["tables"]], said["migrations"]
    except (ValueError, KeyError, TypeError) as error:
        if isinstance(error, ArchiveRefused):
            raise
        raise ArchiveRefused(f"{MANIFEST} cannot be read: {error}.") from error
    check_migrations(migrations)
    check_members(archive, tables)
    return tables


def check_migrations(given: list[str]) -> None:
    here, there = set(applied_migrations()), set(given)
    if here == there:
        return
    lacking, ahead = sorted(there - here), sorted(here - there)
    parts = [f"the archive has {named(lacking)}, which this database lacks"] if lacking else []
    parts += [f"this database has {named(ahead)}, which the archive lacks"] if ahead else []
    advice = "Restore with the version of the service that made it, then migrate."
    raise ArchiveRefused(f"Its tables are of another version: {'; '.join(parts)}. {advice}")


def named(names: list[str]) -> str:
    more = f" and {len(names) - NAMED_AT_MOST} more" if len(names) > NAMED_AT_MOST else ""
    return ", ".join(names[:NAMED_AT_MOST]) + more


def check_members(archive: zipfile.ZipFile, tables: list[Table]) -> None:
    known = {model._meta.db_table: column_names(model) for model in kept_models()}
    given = {table.name: table.columns for table in tables}
    if known != given:
        wrong = sorted(name for name in known.keys() | given.keys() if known.get(name) != given.get(name))
        raise ArchiveRefused(f"Its tables are not those of this version: {named(wrong)}.")
    expected = {MANIFEST, *(table.member for table in tables)}
    members = archive.namelist()
    if wrong := sorted(expected - set(members)):
        raise ArchiveRefused(f"{named(wrong)} is missing.")
    if wrong := sorted(set(members) - expected) or sorted({one for one in members if members.count(one) > 1}):
        raise ArchiveRefused(f"{named(wrong)} does not belong in it, or is there twice.")


def check_table(archive: zipfile.ZipFile, table: Table) -> None:
    total, rows = hashlib.sha256(), 0
    try:
        for line in lines_of(archive, table):
            total.update(line)
            rows += 1
    except (zipfile.BadZipFile, zlib.error, EOFError) as error:
        raise ArchiveRefused(f"{table.member} is damaged: {error}.") from error
    if rows != table.rows:
        raise ArchiveRefused(f"{table.member} holds {rows} rows; {table.rows} were written.")
    if total.hexdigest() != table.sha256:
        raise ArchiveRefused(f"{table.member} is damaged: its checksum is not the one that was written.")


def lines_of(archive: zipfile.ZipFile, table: Table) -> Iterator[bytes]:
    with archive.open(table.member) as member:
        yield from member


def what_is_there() -> list[str]:
    """Tables with rows that no fresh database has."""
    counts = {
        model._meta.db_table: model._base_manager.count()
        for model in kept_models()
        if model._meta.db_table not in GIVEN
    }
    return [f"{number} rows in {name}" for name, number in counts.items() if number][:NAMED_AT_MOST]


@transaction.atomic
def load(archive: zipfile.ZipFile, tables: list[Table]) -> None:
    models = {model._meta.db_table: model for model in kept_models()}
    with without_triggers():
        empty_everything()
        for table in tables:
            load_table(archive, table, models[table.name])
        connection.check_constraints()
    for table in tables:
        if table.last_id is not None:
            set_last_id(models[table.name], table.last_id)


def load_table(archive: zipfile.ZipFile, table: Table, model: Model) -> None:
    fields = columns(model)
    named_columns = ", ".join(quoted(one.column) for one in fields)
    marks = ", ".join(["%s"] * len(fields))
    sql = f"INSERT INTO {quoted(table.name)} ({named_columns}) VALUES ({marks})"
    lines, at = lines_of(archive, table), 0
    with connection.cursor() as cursor:
        while batch := list(islice(lines, ROWS_AT_ONCE)):
            cursor.executemany(
                sql, [understood_row(fields, line, table, at + n) for n, line in enumerate(batch, 1)]
            )
            at += len(batch)


def understood_row(fields: list[Any], line: bytes, table: Table, number: int) -> list[Any]:
    try:
        return row_from(fields, line)
    except Exception as error:
        if isinstance(error, DatabaseFault):
            raise
        raise ArchiveRefused(f"{table.member}, line {number} cannot be read: {error}.") from error


@transaction.atomic
def record_restore() -> Event:
    """An event for subscribers: what happened since the backup is undone.

    Its sequence number is far above all that were given since, so that a subscriber who has one of these misses no later
    event.
    """
    events.sequence_events()
    newest = Event.objects.aggregate(newest=Max("sequence"))["newest"] or 0
    now = database_now()
    data = {"newest_sequence_in_backup": newest}
    event = events.record("service.restored", aggregate="service", data=data, occurred_at=now)
    event.sequence = newest + SEQUENCE_GAP
    event.save(update_fields=["sequence"])
    return event

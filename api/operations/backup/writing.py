"""A backup: every row as it stood at one moment, in a file that is whole or is not there."""

import hashlib
import json
import os
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from api.operations.backup.engines import last_id
from api.operations.backup.tables import Model, applied_migrations, column_names, kept_models, rows_of

FORMAT = 1
MANIFEST = "manifest.json"
# Rows hold password hashes and closed secrets.
OWNER_ONLY = 0o600


@dataclass(frozen=True)
class Table:
    """What the manifest says of a member of the archive."""

    name: str
    columns: list[str]
    rows: int
    sha256: str
    last_id: int | None

    @property
    def member(self) -> str:
        return f"tables/{self.name}.jsonl"


def write_backup(path: Path) -> list[Table]:
    """Write it beside the place and move it there when it is whole and on the disk."""
    partial = path.with_name(f".{path.name}.{os.getpid()}.partial")
    try:
        with open(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY), "wb") as stream:
            with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive, one_moment():
                tables = [write_table(archive, model) for model in kept_models()]
                archive.writestr(MANIFEST, json.dumps(manifest(tables), indent=1))
            stream.flush()
            os.fsync(stream.fileno())
        partial.replace(path)
    finally:
        partial.unlink(missing_ok=True)
    sync_folder(path.parent)
    return tables


def sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def manifest(tables: list[Table]) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "made_at": timezone.now().isoformat(),
        "engine": connection.vendor,
        "migrations": applied_migrations(),
        "tables": [asdict(table) for table in tables],
    }


def write_table(archive: zipfile.ZipFile, model: Model) -> Table:
    name, count, total = model._meta.db_table, 0, hashlib.sha256()
    with archive.open(f"tables/{name}.jsonl", "w", force_zip64=True) as member:
        for line in rows_of(model):
            member.write(line)
            total.update(line)
            count += 1
    return Table(name, column_names(model), count, total.hexdigest(), last_id(model))


@contextmanager
def one_moment() -> Iterator[None]:
    """All that is read inside is of one moment, and nobody has to wait for it."""
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
    else:
        with connection.cursor() as cursor:
            # Django would take the write lock; a reader of the log needs none.
            cursor.execute("BEGIN DEFERRED")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")

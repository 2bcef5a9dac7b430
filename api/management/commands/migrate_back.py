"""`manage.py migrate_back FILE`: before an older version is installed, the database goes back to its migrations."""

import re
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations import Migration
from django.db.migrations.executor import MigrationExecutor

Key = tuple[str, str]
APP = re.compile(r"^(\w+)$")
APPLIED = re.compile(r"^ \[X\] (\w+)")


class Command(BaseCommand):
    help = (
        "Takes back every migration that a list written by showmigrations does not have. To be run with the new version still "
        "installed. Where one cannot be taken back, nothing is."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="What `showmigrations` printed before the upgrade.")

    def handle(self, *args: Any, **options: Any) -> None:
        kept = read_list(options["file"])
        loader = MigrationExecutor(connection).loader
        surplus = set(loader.applied_migrations) - set(kept)
        for key, migration in loader.replacements.items():
            # `showmigrations` lists what replaces others, and an older version these others: the database is the same.
            surplus -= {*migration.replaces, *([key] if set(migration.replaces) <= set(kept) else [])}
        unknown = surplus - set(loader.disk_migrations)
        if unknown:
            raise CommandError(
                f"This version does not have {named(unknown)}: install the version that was in use."
            )
        lasting = {key for key in surplus if not can_go_back(loader.disk_migrations[key])}
        if lasting:
            raise CommandError(
                f"{named(lasting)} cannot be taken back: restore the backup made before the upgrade. Nothing was changed."
            )
        if not surplus:
            self.stdout.write("The database has no other migration than the list: nothing to take back.")
        if surplus and not set(kept) <= set(loader.disk_migrations):
            raise CommandError(
                "The list is of a version whose migrations have become one since: restore the backup made before the upgrade. "
                "Nothing was changed."
            )
        last = dict(kept)
        for app in sorted({app for app, _ in surplus}):
            # Of an app that was not there before nothing stays.
            name = last.get(app, "zero")
            call_command("migrate", app, name, verbosity=options["verbosity"], interactive=False)


def read_list(path: Path) -> list[Key]:
    """The migrations with a cross, each with the app above it, in the order of the list: each app ends with its last."""
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{path} cannot be read: {error}") from error
    found, app = [], ""
    for line in lines:
        if heading := APP.match(line):
            app = heading[1]
        elif applied := APPLIED.match(line):
            found.append((app, applied[1]))
    if not found:
        raise CommandError(f"{path} names no migration with [X]: it must be what `showmigrations` printed.")
    return found


def can_go_back(migration: Migration) -> bool:
    return all(operation.reversible for operation in migration.operations)


def named(keys: set[Key]) -> str:
    return ", ".join(f"{app}.{name}" for app, name in sorted(keys))

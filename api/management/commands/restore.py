"""`manage.py restore FILE`: puts the database into the state of a backup."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from api.operations.backup.reading import ArchiveRefused, DatabaseNotEmpty, record_restore, restore


class Command(BaseCommand):
    help = (
        "Checks that FILE is complete, then replaces everything in the database by it, or nothing. The database must be "
        "migrated to the version that made FILE; it may be the other engine. A database that is not empty needs "
        "--yes. Stop the service first. Afterwards an event service.restored asks subscribers to read everything again, and "
        "senders should repeat what they sent since the backup: what is known already changes nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", type=Path)
        parser.add_argument("--yes", action="store_true", help="replace what is in the database")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        try:
            with transaction.atomic():
                tables = restore(path, may_replace=options["yes"])
                record_restore()
        except OSError as error:
            raise CommandError(f"{path} cannot be read: {error.strerror}.") from error
        except ArchiveRefused as refusal:
            raise CommandError(f"{path} was not restored, and nothing was changed. {refusal}") from refusal
        except DatabaseNotEmpty as refusal:
            raise CommandError(f"{refusal} Use --yes to replace all of it by {path}.") from refusal
        self.stdout.write(
            f"{sum(table.rows for table in tables)} rows of {len(tables)} tables were restored."
        )

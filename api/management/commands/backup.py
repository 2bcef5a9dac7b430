"""`manage.py backup FILE`: writes everything into an archive."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from api.operations.backup.writing import write_backup


class Command(BaseCommand):
    help = (
        "Writes every row, as of one moment, into FILE, while the service runs. FILE appears only when it is "
        "complete. `restore` reads it into either database. Sessions and leases are left out. Protect it like the "
        "database: it contains password hashes. Secrets of webhooks can be read only with the same SECRET_KEY, which is "
        "not in it."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        if path.is_dir() or not path.absolute().parent.is_dir():
            raise CommandError(f"{path} must be the name of a file in an existing folder.")
        try:
            tables = write_backup(path.absolute())
        except OSError as error:
            raise CommandError(f"{path} could not be written: {error.strerror}. No file was left.") from error
        rows = sum(table.rows for table in tables)
        self.stdout.write(f"{rows} rows of {len(tables)} tables were written to {path}.")

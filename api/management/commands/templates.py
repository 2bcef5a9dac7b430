"""`manage.py templates FOLDER`: the templates of all kinds, to fill with a spreadsheet or a text editor."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from api.exchange.tables import KINDS
from api.exchange.templates import csv_meanings, csv_template, workbook_template


class Command(BaseCommand):
    help = (
        "Writes templates to fill: plant.xlsx with a sheet for each kind and one that explains the columns, a CSV file for each "
        "kind, and columns.csv. Files that are there are kept."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, metavar="FOLDER")
        parser.add_argument(
            "--kind", action="append", choices=KINDS, metavar="KIND", help=f"Only these: {', '.join(KINDS)}."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        folder, kinds = options["folder"], options["kind"] or list(KINDS)
        contents = {f"{kind}.csv": csv_template(kind).encode() for kind in kinds}
        contents["columns.csv"] = csv_meanings(kinds).encode()
        contents["plant.xlsx"] = workbook_template(kinds)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for name, content in contents.items():
                with (folder / name).open("xb") as file:
                    file.write(content)
        except FileExistsError as error:
            raise CommandError(f"{error.filename} is there already: name an empty folder.") from error
        except OSError as error:
            raise CommandError(f"{folder} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"{len(contents)} templates were written to {folder}.")

"""`manage.py emergency_sheets FILE`: what to print for a night without network."""

import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from api.screens.paper.emergency import emergency_drives, sheets_file
from drives.models import Plant


class Command(BaseCommand):
    help = "Writes one HTML file to print: a page for each vital drive and each lifting drive."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="The file to write; it takes the place of an older one.")
        parser.add_argument("--plant", metavar="CODE", help="Only the drives of this plant.")

    def handle(self, *args: Any, **options: Any) -> None:
        path, code, drives = options["file"], options["plant"], emergency_drives()
        if code is not None:
            if not Plant.objects.filter(code=code).exists():
                raise CommandError(f"--plant: there is no plant {code!r}: give its code.")
            drives = drives.filter(equipment__area__plant__code=code)
        text, count = sheets_file(drives, timezone.now())
        if not count:
            raise CommandError("No drive is vital or a lifting drive: set the criticality of drives first.")
        unfinished = path.with_name(path.name + ".part")
        try:
            unfinished.write_text(text, encoding="utf-8")
            os.replace(unfinished, path)
        except OSError as error:
            raise CommandError(f"{path} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"{count} sheet{'s' * (count != 1)} in {path}: open it in a browser and print.")

"""`manage.py import_folder`: for a work-order system that exports files and calls no API."""

import os
import socket
import sys
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from api.exchange.message_tables import MESSAGE_TABLES
from api.exchange.watch_folder import import_folder
from api.wording.sentences import sentence, sentences
from drives.feed.quarantine import retry_waiting
from inventory.plumbing.leases import HeldLease, lease

QUIET_SECONDS = 5.0
LEASE_SECONDS = 900
"""Longer than the largest file takes; renewed with each file."""
HELP = """Imports the files of a folder: work-orders*.csv, parts-used*.csv, meter-readings*.csv.

Each file is moved to done/ or, when anything in it was rejected, to failed/, with its result beside it
(NAME.result.csv: line, key, outcome, column, detail). It can be stopped at any time and run again.

UTF-8 with or without its mark, UTF-16 with its mark and Windows-1252 are read; columns are separated by commas, semicolons
or tabs; numbers have a decimal point or an unambiguous decimal comma. Times have an offset from UTC
(2026-03-01T06:30:00+01:00), dates are written 2026-03-01. An empty cell means not known. In work orders any value in a
failure column (or failure = yes) means that there was a failure. parts-used has all lines of an order, numbered in line; a
negative quantity was returned. A message that names an unknown record waits and is tried again.

"""


class Command(BaseCommand):
    help = HELP + "\n".join(
        f"{kind}: {', '.join(column.name for column in table.columns)}"
        for kind, table in MESSAGE_TABLES.items()
    )

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        return super().create_parser(
            prog_name, subcommand, formatter_class=RawDescriptionHelpFormatter, **kwargs
        )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", metavar="DIR")
        parser.add_argument(
            "--whole", action="store_true", help="Reject a whole file when one of its rows is rejected."
        )
        parser.add_argument(
            "--quiet-seconds",
            type=float,
            default=QUIET_SECONDS,
            help="Leave files that were changed so recently to the next run.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        folder = Path(options["folder"])
        if not folder.is_dir():
            raise CommandError(f"{folder} is not a folder.")
        holder = f"{socket.gethostname()[:60]}:{os.getpid()}"
        with lease("command import_folder", holder, LEASE_SECONDS) as held:
            if held is None:
                self.stdout.write("Another run is under way: nothing was done.")
                return
            failed = self.take(folder, held, options)
        if failed:
            sys.exit(1)

    def take(self, folder: Path, held: HeldLease, options: dict[str, Any]) -> int:
        failed = 0
        for dropped in import_folder(folder, whole=options["whole"], quiet_seconds=options["quiet_seconds"]):
            held.renew()
            failed += not dropped.is_done
            self.stdout.write(f"{dropped.path.name}: {sentences(dropped.result.summary())}")
            for problem in dropped.result.problems:
                self.stderr.write(f"{dropped.path.name}: {sentence(problem)}")
        waited, still = retry_waiting(timezone.now())
        self.stdout.write(f"Messages that waited for records: {waited}; still waiting: {still}.")
        return failed

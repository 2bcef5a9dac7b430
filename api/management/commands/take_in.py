"""The nightly drop of files: the way in for a work-order system that exports tables and calls no API."""

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
from drives.feed.quarantine import retry_waiting
from inventory.plumbing.leases import HeldLease, lease

QUIET_SECONDS = 5.0
LEASE_SECONDS = 900
"""Longer than one file within the limits of size takes; renewed with each."""
HELP = """Takes in the files of a folder: work-orders*.csv, parts-used*.csv, meter-readings*.csv.

Each file is moved to done/ or, when anything in it was rejected, to failed/, with its result beside it
(NAME.result.csv: line, key, outcome, column, detail). Running it again does no harm, nor does breaking it off.

UTF-8 with or without its mark, UTF-16 with its mark and Windows-1252 are read; columns parted by commas, semicolons or
tabs; numbers with a decimal point or an unmistakable decimal comma. Moments carry their offset from UTC
(2026-03-01T06:30:00+01:00), days are written 2026-03-01. An empty cell means not told. In work orders any filled column
of the failure (or failure = yes) says that there was one. parts-used holds all lines of an order, numbered in line; a
negative quantity came back. What names a record that is not there waits and is tried again.

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
        parser.add_argument("--whole", action="store_true", help="A rejected row keeps its whole file out.")
        parser.add_argument(
            "--quiet-seconds",
            type=float,
            default=QUIET_SECONDS,
            help="Leave files to the next run that were written to so shortly before.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        folder = Path(options["folder"])
        if not folder.is_dir():
            raise CommandError(f"{folder} is not a folder.")
        holder = f"{socket.gethostname()[:60]}:{os.getpid()}"
        with lease("take_in", holder, LEASE_SECONDS) as held:
            if held is None:
                self.stdout.write("Another run is at it: nothing was done.")
                return
            failed = self.take(folder, held, options)
        if failed:
            sys.exit(1)

    def take(self, folder: Path, held: HeldLease, options: dict[str, Any]) -> int:
        failed = 0
        for dropped in import_folder(folder, whole=options["whole"], quiet_seconds=options["quiet_seconds"]):
            held.renew()
            failed += not dropped.is_done
            self.stdout.write(f"{dropped.path.name}: {dropped.result.summary()}")
            for problem in dropped.result.problems:
                self.stderr.write(f"{dropped.path.name}: {problem}")
        waited, still = retry_waiting(timezone.now())
        self.stdout.write(f"{waited} messages waited, {still} still do.")
        return failed

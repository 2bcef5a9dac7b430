"""Import a file from the command line: the same way in as over the API."""

import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from api.exchange.progress import RowProgress, reporting
from api.exchange.results import ImportResult
from api.exchange.run import import_stream
from api.exchange.tables import KINDS
from api.management.mapping_talk import MappingTalk
from api.wording.sentences import sentence, sentences


class Command(BaseCommand):
    help = "Imports a CSV, XLSX or NDJSON file; exits with 1 when anything in it is rejected."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("kind", choices=KINDS, metavar="KIND", help=", ".join(KINDS))
        parser.add_argument("file", metavar="FILE", help="'-' reads standard input.")
        parser.add_argument("--dry-run", action="store_true", help="Report everything and change nothing.")
        parser.add_argument(
            "--partial", action="store_true", help="Write the good rows and leave the others out."
        )
        parser.add_argument(
            "--source",
            default="",
            metavar="NAME",
            help="The file has headings of its own: they are mapped, and remembered under this name.",
        )
        parser.add_argument(
            "--answers",
            metavar="FILE",
            help="JSON with an answer for each question; open ones are added to it. Without it they are asked here.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        chosen = {name: options[name] for name in ("dry_run", "partial")}
        if options["source"]:
            path = Path(options["answers"]) if options["answers"] else None
            talk = MappingTalk(self.stdout, options["kind"], options["source"], path)
            result = talk.import_file(options["file"], **chosen)
        else:
            result = import_file(options["kind"], options["file"], **chosen)
        self.tell(result)
        if not result.is_accepted:
            sys.exit(1)

    def tell(self, result: ImportResult) -> None:
        for note in result.notes:
            self.stdout.write(sentence(note))
        for problem in result.problems:
            self.stderr.write(sentence(problem))
        for row in result.row_results:
            for error in row.errors:
                where = f"line {row.line}, {error.column}" if error.column else f"line {row.line}"
                self.stderr.write(f"{where}: {sentence(error.fact)}")
        self.stdout.write(sentences(result.summary()))


@contextmanager
def shown(progress: RowProgress) -> Iterator[None]:
    """One line of the terminal that says how far the import is, and goes away at its end."""
    with reporting(progress, show):
        yield
    sys.stderr.write("\r\x1b[K")


def show(progress: RowProgress) -> None:
    counts = f"{progress.read:,} read, {progress.checked:,} checked, {progress.written:,} written"
    of = f" of {progress.rows:,} rows" if progress.rows else ""
    sys.stderr.write(f"\r\x1b[K{counts}{of}")
    sys.stderr.flush()


def import_file(kind: str, name: str, *, dry_run: bool, partial: bool) -> ImportResult:
    try:
        with sys.stdin.buffer if name == "-" else Path(name).open("rb") as stream:
            file = "" if name == "-" else name
            progress = RowProgress()
            with shown(progress) if sys.stderr.isatty() else nullcontext():
                return import_stream(
                    kind,
                    stream,
                    name=file,
                    dry_run=dry_run,
                    partial=partial,
                    by="import_records",
                    progress=progress,
                )
    except OSError as error:
        raise CommandError(f"{name} cannot be read: {error.strerror}.") from error

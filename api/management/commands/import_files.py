"""`manage.py import_files PATH…`: a folder, workbooks and files in one go, in the order of loading; and its undoing."""

import sys
from argparse import ArgumentParser
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from api.exchange.import_sets import GivenFile, SetRefused, choose_kinds, make_set, read_as_well
from api.exchange.mapping.answering import read_answers, with_open_questions
from api.exchange.refusals import FileRefused
from api.exchange.results import RowOutcome
from api.exchange.set_questions import answer, correct, mapped_sheets, questions_of
from api.exchange.set_runs import carry_out, check_ready
from api.exchange.tables import KINDS
from api.exchange.undoing import never_undone, undo
from api.management.mapping_talk import ask, still_open
from api.models import ImportSet, ImportSetState, ImportSheet
from api.wire.facts import stored_fact
from api.wording.sentences import sentence, sentences

ENDINGS = (".csv", ".xlsx", ".xlsm", ".ndjson", ".jsonl", ".txt", ".tsv")
BY = "import_files"
MOST_SHOWN = 50


class Command(BaseCommand):
    help = (
        "Imports all files of a folder, or the files named, in one go: proposes which kind each file or sheet is, says what "
        "would change or is wrong, and writes all of it or nothing. Exits with 1 where nothing was written that should be."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("paths", nargs="*", type=Path, metavar="PATH", help="A folder, or files.")
        parser.add_argument(
            "--is",
            action="append",
            default=[],
            dest="kinds",
            metavar="FILE[,SHEET]=KIND",
            help=f"What a file or sheet is, several kinds with + between them; empty after = leaves it out. Kinds: {', '.join(KINDS)}.",
        )
        parser.add_argument(
            "--answers",
            type=Path,
            metavar="FILE",
            help="Answers to the questions of files with headings of your own, as JSON; what is open is written into it.",
        )
        parser.add_argument(
            "--source", default="", help="Name of where the files come from, such as 'old stores list'."
        )
        parser.add_argument("--dry-run", action="store_true", help="Report everything and change nothing.")
        parser.add_argument(
            "--undo", type=int, metavar="NUMBER", help="Undo the import of this number instead."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["undo"] is not None:
                self.undo(options["undo"])
            else:
                self.bring_in(options)
        except SetRefused as refusal:
            raise CommandError(sentence(refusal.fact)) from refusal
        except FileRefused as refusal:
            raise CommandError(sentences(refusal.facts)) from refusal

    def bring_in(self, options: dict[str, Any]) -> None:
        owner = self.sent(files_of(options["paths"]), options["source"][:40])
        self.choose(owner, options["kinds"])
        check_ready(owner)
        self.answer(owner, options["answers"])
        carry_out(owner, dry_run=options["dry_run"])
        for sheet in owner.sheets.select_related("file"):
            self.tell(sheet)
        if owner.state == ImportSetState.DONE:
            undoing = f"{settings.PROGRAM} import_files --undo {owner.pk}"
            kept = never_undone(owner)
            self.stdout.write(
                f"All of it was written. {sentence(kept) if kept else f'To undo it: {undoing}'}"
            )
        elif owner.state == ImportSetState.TRIED:
            self.stdout.write("This was a dry run: nothing was written, and nothing is wrong.")
        else:
            self.stdout.write("Nothing was written: correct what is named above and import all of it again.")
            sys.exit(1)

    def sent(self, paths: list[Path], source: str) -> ImportSet:
        with ExitStack() as stack:
            try:
                given = [GivenFile(path.name, stack.enter_context(path.open("rb"))) for path in paths]
            except OSError as error:
                raise CommandError(f"{error.filename} cannot be read: {error.strerror}.") from error
            return make_set(given, source=source, by_name=BY)

    def choose(self, owner: ImportSet, texts: list[str]) -> None:
        for text in texts:
            named, is_said, kinds = text.rpartition("=")
            title = named.replace(", ", ",")
            sheets = [
                one for one in owner.sheets.select_related("file") if one.title.replace(", ", ",") == title
            ]
            if not is_said or not sheets:
                known = dict.fromkeys(sheet.title for sheet in owner.sheets.select_related("file"))
                raise CommandError(f"--is {text!r} names none of: {'; '.join(known)}.")
            first, *more = (one.strip() for one in kinds.split("+"))
            choose_kinds(owner, {one.number: first if one == sheets[0] else "" for one in sheets})
            for kind in more:
                read_as_well(owner, sheets[0].number, kind)

    def answer(self, owner: ImportSet, file: Path | None) -> None:
        """From the file, or asked one by one where somebody sits there."""
        given = read_answers(file.read_text(encoding="utf-8")) if file and file.exists() else {}
        sheets = mapped_sheets(owner)
        answer(sheets, given, {})
        correct(sheets, given)
        while found := questions_of(mapped_sheets(owner)):
            asked = [replace(one.question, key=one.key) for one in found]
            places = {one.key: "; ".join(one.titles) for one in found}
            if file is not None:
                file.write_text(with_open_questions(given, asked), encoding="utf-8")
            if file is not None or not sys.stdin.isatty():
                owner.delete()
                raise still_open(asked, places=places)
            for question in asked:
                answer(
                    mapped_sheets(owner),
                    {question.key: ask(self.stdout, question, place=places[question.key])},
                    {},
                )

    def tell(self, sheet: ImportSheet) -> None:
        if not sheet.kind:
            self.stdout.write(
                f"{sheet.title}: left out, as its kind is not known (--is '{sheet.title}=KIND')."
            )
        else:
            counts = [
                f"{sheet.count_of(outcome)} {outcome}" for outcome in RowOutcome if sheet.count_of(outcome)
            ]
            self.stdout.write(f"{sheet.title} is {sheet.kind}: {', '.join(counts) or 'nothing'}")
        for problem in (*sheet.problems, *sheet.notes):
            self.stdout.write(f"  {sentence(stored_fact(problem))}")
        for row in sheet.row_results[:MOST_SHOWN]:
            for error in row["errors"]:
                column = f", {error['column']}" if error["column"] else ""
                self.stdout.write(f"  line {row['line']}{column}: {sentence(stored_fact(error))}")
            for change in row.get("changes", ()):
                before, after = change["before"], change["after"]
                self.stdout.write(
                    f"  line {row['line']}, {row['key']}, {change['column']}: {before} → {after}"
                )

    def undo(self, number: int) -> None:
        owner = ImportSet.objects.filter(pk=number).first()
        if owner is None:
            raise CommandError(f"There is no import {number}.")
        done = undo(owner, by=BY).undo_result
        self.stdout.write(
            f"Undone: {done['deleted']} records deleted, {done['restored']} as before, {done['reversed']} movements reversed; "
            f"{done['kept']} stay, as the ledger names them."
        )


def files_of(paths: list[Path]) -> list[Path]:
    found: list[Path] = []
    for path in paths:
        inside = sorted(path.iterdir()) if path.is_dir() else [path]
        found += [one for one in inside if one == path or one.suffix.lower() in ENDINGS]
    if not found:
        raise CommandError("Name a folder with CSV or XLSX files, or the files themselves.")
    return found

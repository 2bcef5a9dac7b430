"""A set of files as it is sent: its sheets with the kind that is proposed for each, and what a person says they are."""

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from os import SEEK_END
from typing import IO

from django.db import transaction
from django.db.models import Max, QuerySet

from api.edge.body_limits import MAX_FILE_BYTES
from api.exchange.files import JSON_NAMES, read_file, sheet_names
from api.exchange.kind_proposals import is_heading, is_ours, kinds_beside, proposed_kind
from api.exchange.mapping.mapped_file import MappedFile
from api.exchange.mapping.untidy import MOST_ROWS, read_table
from api.exchange.reading import Sheet
from api.exchange.refusals import FileRefused
from api.exchange.source_sheets import (
    CHOSEN,
    as_sent,
    has_cells_of_its_own,
    mapped_parts,
    sheet_of_kind,
    source_named,
)
from api.exchange.tables import KINDS
from api.exchange.templates import MEANINGS
from api.exchange.together import KindSheet
from api.models import ImportSet, ImportSetState, ImportSheet, SentFile, SentFilePart
from inventory.facts import Fact, Refusal, fact
from inventory.models.access_scope import current_scope

PART_BYTES = 1_000_000
MOST_FILES = 50
MOST_SHEETS = 100
OPEN_STATES = (
    ImportSetState.PROPOSED,
    ImportSetState.TRIED,
    ImportSetState.REFUSED,
    ImportSetState.INTERRUPTED,
)
"""In which its sheets can be corrected and it can be tried or imported."""
EMPTY = ("file_empty", "file_without_columns", "file_without_rows")
UNFINISHED = (ImportSetState.QUEUED, ImportSetState.RUNNING)


class SetRefused(Refusal):
    """The set cannot be used as it is."""


@dataclass(frozen=True)
class GivenFile:
    name: str
    stream: IO[bytes]


@dataclass(frozen=True)
class FoundSheet:
    """A sheet before it is kept; `problem` says why it cannot be read."""

    name: str
    kinds: tuple[str, ...] = ("",)
    columns: tuple[str, ...] = ()
    rows: int | None = None
    notes: tuple[Fact, ...] = ()
    problems: tuple[Fact, ...] = ()


def sets_seen_by(caller: str) -> "QuerySet[ImportSet]":
    """Who is limited to some plants or storerooms sees the sets that they sent themselves."""
    sets = ImportSet.objects.all()
    return sets if current_scope().is_whole else sets.filter(caller=caller)


def found_sheets(file: GivenFile, kind: str) -> list[FoundSheet]:
    """The sheets of a workbook that hold something, or the one of a file of text; all of `kind` where that is said."""
    if file.stream.seek(0, SEEK_END) > MAX_FILE_BYTES:
        return [FoundSheet("", problems=(fact("file_too_large", most_bytes=MAX_FILE_BYTES),))]
    try:
        names = sheet_names(file.stream)
    except FileRefused as refusal:
        return [FoundSheet("", problems=refusal.facts)]
    if not names:
        return [found_sheet(file, "", kind or file.name)]
    named = [name for name in names if name != MEANINGS]
    found = [
        found_sheet(file, name, kind or (name if len(named) > 1 else f"{name} {file.name}")) for name in named
    ]
    return [one for one in found if one.columns or one.problems] or [
        FoundSheet("", problems=(fact("file_without_rows"),))
    ]


def found_sheet(file: GivenFile, sheet: str, hint: str) -> FoundSheet:
    try:
        read = read_file(file.stream, name=file.name, sheet=sheet, kind=proposed_kind(hint, ()))
        kind = proposed_kind(hint, read.columns)
        if is_ours(kind, read.columns):
            notes = tuple(note for note in read.notes if note.code != CHOSEN)
            return FoundSheet(sheet, (kind,), read.columns, sum(1 for _ in read.rows), notes)
        refused: tuple[Fact, ...] = ()
    except FileRefused as refusal:
        refused = refusal.facts
    return found_list(file, sheet, hint, refused)


def found_list(file: GivenFile, sheet: str, hint: str, refused: tuple[Fact, ...]) -> FoundSheet:
    """A list of a plant's own: with titles above its headings, and rows of several kinds."""
    try:
        raw = read_table(file.stream, is_known=is_heading, sheet=sheet)
    except FileRefused as refusal:
        facts = refused or refusal.facts
        is_empty = any(one.code in EMPTY for one in facts)
        return FoundSheet(sheet, problems=() if sheet and is_empty else facts)
    kind = proposed_kind(hint, raw.headings)
    kinds = (kind, *kinds_beside(kind, raw.headings))
    return FoundSheet(sheet, kinds, raw.headings, len(raw.rows))


def make_set(
    files: Sequence[GivenFile],
    *,
    source: str = "",
    kind: str = "",
    by_name: str,
    caller: str = "",
    by: object = None,
) -> ImportSet:
    """Keep the files with a proposal for each sheet: `kind` where somebody says what they are."""
    if not files:
        raise SetRefused(fact("no_files_sent"))
    if len(files) > MOST_FILES:
        raise SetRefused(fact("too_many_files_sent", files=len(files), most=MOST_FILES))
    found = [(file, found_sheets(file, kind)) for file in files]
    if sum(len(sheets) for _, sheets in found) > MOST_SHEETS:
        raise SetRefused(fact("too_many_sheets_sent", most=MOST_SHEETS))
    names = ", ".join(file.name for file in files)
    with transaction.atomic():
        made = ImportSet.objects.create(
            name=names if len(names) <= 200 else f"{names[:199]}…",
            source=source,
            by=by,  # type: ignore[misc]
            by_name=by_name,
            caller=caller,
        )
        number = 0
        for place, (file, sheets) in enumerate(found):
            kept = keep_file(made, place, file)
            for sheet in sheets:
                for one in sheet.kinds:
                    number += 1
                    keep_sheet(made, kept, number, one, sheet)
    return made


def keep_file(owner: ImportSet, number: int, file: GivenFile) -> SentFile:
    kept = SentFile.objects.create(set=owner, number=number, name=file.name[:200])
    file.stream.seek(0)
    for part, content in enumerate(iter(lambda: file.stream.read(PART_BYTES), b"")):
        SentFilePart.objects.create(file=kept, number=part, content=content)
    return kept


def keep_sheet(owner: ImportSet, file: SentFile, number: int, kind: str, found: FoundSheet) -> None:
    ImportSheet.objects.create(
        set=owner,
        file=file,
        number=number,
        name=found.name,
        kind=kind,
        columns=list(found.columns),
        rows=found.rows,
        notes=[one.as_json() for one in found.notes],
        problems=[one.as_json() for one in found.problems],
    )


def choose_kinds(owner: ImportSet, kinds: Mapping[int, str]) -> None:
    """What a person says each sheet is, by its number; empty leaves it out."""
    if owner.state not in OPEN_STATES:
        raise SetRefused(fact("import_is_over", state=str(owner.state)))
    for sheet in owner.sheets.all():
        kind = kinds.get(sheet.number, sheet.kind)
        if kind and kind not in KINDS:
            raise SetRefused(fact("kind_of_sheet_not_known", sheet=sheet.title, kind=kind))
        if kind != sheet.kind:
            sheet.kind = kind
            sheet.save(update_fields=["kind"])


def read_as_well(owner: ImportSet, number: int, kind: str) -> None:
    """The rows of a sheet are records of another kind too."""
    if owner.state not in OPEN_STATES:
        raise SetRefused(fact("import_is_over", state=str(owner.state)))
    sheet = owner.sheets.select_related("file").get(number=number)
    if kind not in KINDS:
        raise SetRefused(fact("kind_of_sheet_not_known", sheet=sheet.title, kind=kind))
    if kind not in {sheet.kind, *others_of(owner, sheet)}:
        last = owner.sheets.aggregate(last=Max("number"))["last"]
        found = FoundSheet(sheet.name, (kind,), tuple(sheet.columns), sheet.rows)
        keep_sheet(owner, sheet.file, last + 1, kind, found)


def sheets_to_import(owner: ImportSet) -> list[ImportSheet]:
    return [sheet for sheet in owner.sheets.select_related("file") if sheet.kind]


def is_mapped(owner: ImportSet, sheet: ImportSheet, file: IO[bytes]) -> bool:
    """Whether its headings are its own, or its cells are not as a template asks for them. One that is longer than what is mapped
    has to be as the template asks, and so has what a program writes."""
    if owner.source or not is_ours(sheet.kind, sheet.columns):
        return True
    if (sheet.rows or 0) > MOST_ROWS or sheet.file.name.lower().endswith(JSON_NAMES):
        return False
    return has_cells_of_its_own(strict_sheet(file, sheet), sheet.kind)


def strict_sheet(file: IO[bytes], sheet: ImportSheet) -> Sheet:
    return sheet_of_kind(file, name=sheet.file.name, kind=sheet.kind, sheet=sheet.name)


def source_of(owner: ImportSet, sheet: ImportSheet) -> str:
    return owner.source or source_named(sheet.file.name)


def others_of(owner: ImportSet, sheet: ImportSheet) -> tuple[str, ...]:
    """The other kinds as which the same sheet is read."""
    same = owner.sheets.filter(file=sheet.file_id, name=sheet.name).exclude(number=sheet.number)
    return tuple(kind for kind in same.values_list("kind", flat=True) if kind)


@contextmanager
def opened_sheets(owner: ImportSet) -> Iterator[list[tuple[ImportSheet, KindSheet | FileRefused]]]:
    """The sheets that are imported with their rows, one of two positions a row twice; or why they cannot be read."""
    with ExitStack() as stack:
        files: dict[int, IO[bytes]] = {}
        found: list[tuple[ImportSheet, KindSheet | FileRefused]] = []
        for sheet in sheets_to_import(owner):
            if sheet.file_id not in files:
                files[sheet.file_id] = stack.enter_context(sent_file(sheet.file))
            try:
                found += [(sheet, rows) for rows in rows_of(files[sheet.file_id], sheet, owner)]
            except FileRefused as refusal:
                found.append((sheet, refusal))
        yield found


def rows_of(file: IO[bytes], sheet: ImportSheet, owner: ImportSet) -> list[KindSheet]:
    if not is_mapped(owner, sheet, file):
        return [KindSheet(sheet.kind, strict_sheet(file, sheet))]
    return [
        KindSheet(sheet.kind, as_sent(part.sheet, name=sheet.file.name, sheet=sheet.name), part.with_headings)
        for part in parts_of_sheet(file, sheet, owner)
    ]


def parts_of_sheet(file: IO[bytes], sheet: ImportSheet, owner: ImportSet) -> tuple[MappedFile, ...]:
    return mapped_parts(
        file,
        kind=sheet.kind,
        source=source_of(owner, sheet),
        name=sheet.file.name,
        sheet=sheet.name,
        others=others_of(owner, sheet),
    )


@contextmanager
def sent_file(sent: SentFile) -> Iterator[IO[bytes]]:
    """The file as it was sent, on the disk of this machine."""
    with tempfile.TemporaryFile() as file:
        for number in range(sent.parts.count()):
            file.write(sent.parts.values_list("content", flat=True).get(number=number))
        file.seek(0)
        yield file


def forget_files(owner: ImportSet) -> None:
    SentFilePart.objects.filter(file__set=owner).delete()
    owner.sheets.update(reading={})

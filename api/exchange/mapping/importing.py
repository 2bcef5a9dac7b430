"""A file of a source, imported as every other file is once nothing is open."""

from typing import IO, Any

from api.exchange.mapping.mapped_file import MappedFile, map_file
from api.exchange.mapping.remembered import remembered
from api.exchange.refusals import FileRefused
from api.exchange.results import ImportResult
from api.exchange.run import run_import


def import_mapped(mapped: MappedFile, *, dry_run: bool = False, **options: Any) -> ImportResult:
    """With the options of `run_import`; errors name the headings of the file."""
    try:
        sheet = mapped.sheet
    except FileRefused as refusal:
        return ImportResult(mapped.kind, problems=refusal.facts, notes=mapped.notes, dry_run=dry_run)
    return mapped.with_headings(run_import(mapped.kind, sheet, dry_run=dry_run, **options))


def mapped_of_source(stream: IO[bytes], *, kind: str, source: str, sheet: str = "") -> MappedFile:
    """By what is remembered of the source."""
    return map_file(stream, kind=kind, remembered=remembered(source, kind), sheet=sheet)

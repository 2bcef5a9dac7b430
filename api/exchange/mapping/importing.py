"""A file of a source, imported as every other file is once nothing is open."""

from typing import IO, Any

from api.exchange.mapping.mapped_file import MappedFile, map_file
from api.exchange.mapping.remembered import remembered
from api.exchange.refusals import FileRefused
from api.exchange.results import ImportResult
from api.exchange.run import Seal, nothing, run_import


def import_mapped(
    mapped: MappedFile, *, dry_run: bool = False, seal: Seal = nothing, **options: Any
) -> ImportResult:
    """With the options of `run_import`; errors name the headings of the file."""
    try:
        sheet = mapped.sheet
    except FileRefused as refusal:
        return ImportResult(mapped.kind, problems=refusal.facts, notes=mapped.notes, dry_run=dry_run)

    def seal_with_headings(result: ImportResult) -> None:
        seal(mapped.with_headings(result))

    result = run_import(mapped.kind, sheet, dry_run=dry_run, seal=seal_with_headings, **options)
    return mapped.with_headings(result)


def import_of_source(
    stream: IO[bytes], *, kind: str, source: str, dry_run: bool = False, **options: Any
) -> ImportResult:
    """As `import_stream`, for a file with headings of its own."""
    try:
        mapped = mapped_of_source(stream, kind=kind, source=source)
    except FileRefused as refusal:
        return ImportResult(kind, problems=refusal.facts, dry_run=dry_run)
    return import_mapped(mapped, dry_run=dry_run, **options)


def mapped_of_source(stream: IO[bytes], *, kind: str, source: str, sheet: str = "") -> MappedFile:
    """By what is remembered of the source."""
    return map_file(stream, kind=kind, remembered=remembered(source, kind), sheet=sheet)

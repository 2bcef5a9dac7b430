"""Import files that another system drops into a folder; each is moved away with a result file beside it."""

import csv
import os
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from api.edge.csv_writing import neutralised
from api.exchange.results import ImportResult
from api.exchange.run import import_stream
from api.exchange.tables import MESSAGE_KINDS
from api.wording.sentences import sentence

DONE, FAILED = "done", "failed"
HEADER = ("line", "key", "outcome", "column", "code", "detail")


@dataclass(frozen=True, slots=True)
class ImportedFile:
    """One file and where it lies now."""

    path: Path
    result: ImportResult

    @property
    def is_done(self) -> bool:
        return self.result.is_accepted


def waiting_files(folder: Path, *, quiet_seconds: float = 0) -> list[tuple[str, Path]]:
    """Files to import, work orders first; a file written to in the last `quiet_seconds` is left for the next run."""
    before = time.time() - quiet_seconds
    found = []
    for kind in MESSAGE_KINDS:
        named = sorted(path for path in folder.iterdir() if is_of(kind, path))
        found += [(kind, path) for path in named if path.stat().st_mtime <= before]
    return found


def is_of(kind: str, path: Path) -> bool:
    name = path.name.lower()
    return path.is_file() and name.startswith(kind) and name.endswith(".csv")


def import_folder(folder: Path, *, whole: bool = False, quiet_seconds: float = 0) -> Iterator[ImportedFile]:
    """Import each file and move it away with its result beside it. Can be interrupted and run again safely."""
    for kind, path in waiting_files(folder, quiet_seconds=quiet_seconds):
        with path.open("rb") as stream:
            result = import_stream(kind, stream, name=path.name, partial=not whole, by="nightly files")
        yield ImportedFile(put_away(path, result), result)


def put_away(path: Path, result: ImportResult) -> Path:
    target = path.parent / (DONE if result.is_accepted else FAILED)
    target.mkdir(exist_ok=True)
    number, name = 0, path.name
    while (target / name).exists():
        number += 1
        name = f"{path.stem}.{number}{path.suffix}"
    # The result is written before the file is moved: whoever sees the moved file can read its result.
    unfinished = target / f"{name}.result.csv.part"
    write_result(unfinished, result)
    os.replace(unfinished, target / f"{name}.result.csv")
    os.replace(path, target / name)
    return target / name


def write_result(path: Path, result: ImportResult) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(HEADER)
        for outcome, facts in (("refused", result.problems), ("note", result.notes)):
            writer.writerows(("", "", outcome, "", one.code, neutralised(sentence(one))) for one in facts)
        for row in result.row_results:
            begin = (row.line, neutralised(row.key), str(row.outcome))
            for error in row.errors:
                writer.writerow((*begin, error.column, error.fact.code, neutralised(sentence(error.fact))))
            if not row.errors:
                writer.writerow((*begin, "", "", ""))
        stream.flush()
        os.fsync(stream.fileno())

"""The records of a JSON document, or of lines of JSON, as a table: a member of a member has a name with points, such as `asset.tag`."""

import json
from collections.abc import Iterator
from typing import Any

from api.exchange.ndjson import number_of, once_each, refuse_constant
from api.exchange.refusals import FileRefused
from api.exchange.text_files import TextFile
from api.wire.cells import Cell
from inventory.facts import fact

MOST_BYTES = 20_000_000
DEEPEST = 8
Record = dict[str, Cell]


def json_table(text: TextFile, rows_at: str) -> tuple[tuple[str, ...], list[tuple[int, tuple[Cell, ...]]]]:
    records = [flattened(one) for one in records_in(text, rows_at)]
    if not records:
        raise FileRefused(fact("file_without_rows"))
    headings = tuple(dict.fromkeys(name for record in records for name in record))
    rows = [(line, tuple(record.get(name) for name in headings)) for line, record in enumerate(records, 1)]
    return headings, rows


def records_in(text: TextFile, rows_at: str) -> Iterator[dict[str, Any]]:
    found = document_of(text)
    for name in [part for part in rows_at.split(".") if part]:
        found = found.get(name) if isinstance(found, dict) else None
    if isinstance(found, dict):
        found = [found]
    if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
        raise FileRefused(fact("records_not_at_path", path=rows_at))
    yield from found


def record_paths(text: str) -> list[str]:
    """Where lists of records stand in a JSON document, the outermost first; one without such a list is a record itself."""
    try:
        document = read(text)
    except (ValueError, RecursionError):
        return []
    found, level = [], [("", document)]
    while level:
        inner = []
        for path, one in level:
            if isinstance(one, list) and one and all(isinstance(part, dict) for part in one):
                found.append(path)
            elif isinstance(one, dict) and path.count(".") < DEEPEST:
                inner += [(f"{path}.{name}".strip("."), part) for name, part in one.items()]
        level = inner
    return found


def document_of(text: TextFile) -> Any:
    """A list or an object, or a list of the lines where each is an object of its own."""
    lines, size = [], 0
    for line in text.lines():
        size += len(line)
        if size > MOST_BYTES:
            raise FileRefused(fact("file_too_large", most_bytes=MOST_BYTES))
        lines.append(line)
    try:
        return read("".join(lines))
    except (ValueError, RecursionError) as error:
        try:
            return [read(line) for line in lines if line.strip()]
        except (ValueError, RecursionError):
            raise FileRefused(fact("row_not_json", problem=str(error))) from error


def read(text: str) -> Any:
    return json.loads(
        text,
        object_pairs_hook=once_each,
        parse_constant=refuse_constant,
        parse_float=number_of,
        parse_int=number_of,
    )


def flattened(record: dict[str, Any], before: str = "", depth: int = 0) -> Record:
    found: Record = {}
    for name, value in record.items():
        path = f"{before}{name}"
        if isinstance(value, dict) and depth < DEEPEST:
            found |= flattened(value, f"{path}.", depth + 1)
        elif isinstance(value, list) and not all(isinstance(one, str) for one in value):
            found[path] = json.dumps(value, ensure_ascii=False, default=str)
        else:
            found[path] = value
    return found

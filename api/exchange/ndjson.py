"""Newline-delimited JSON to rows: one object a line, every member once, finite numbers only."""

import json
from decimal import Decimal
from typing import Any, NoReturn

from api.exchange.reading import (
    MAX_CELL_CHARACTERS,
    MAX_COLUMNS,
    MAX_ROWS,
    Sheet,
    SourceRow,
    decoded,
    refuse_no_rows,
)
from api.exchange.refusals import FileRefused
from api.wire.cells import shown

MAX_DIGITS = 60


def read_ndjson(content: bytes, *, nested: bool = False) -> Sheet:
    """`nested` lets members be objects and lists, as messages of the feed have them."""
    text, notes = decoded(content)
    lines = [(number, line) for number, line in enumerate(text.split("\n"), 1) if line.strip()]
    if len(lines) > MAX_ROWS:
        raise FileRefused(f"The file has more than {MAX_ROWS} rows: send it in parts.")
    rows = [read_line(number, line, nested=nested) for number, line in lines]
    if rows and rows[-1].problem and not text.endswith("\n"):
        raise FileRefused(f"The file breaks off in line {rows[-1].line}: send the whole file.")
    refuse_no_rows(rows)
    columns = tuple(dict.fromkeys(name for row in rows for name in row.cells))
    if len(columns) > MAX_COLUMNS:
        raise FileRefused(f"The file has {len(columns)} members, at most {MAX_COLUMNS} are read.")
    return Sheet(columns, rows, notes)


def read_line(number: int, line: str, *, nested: bool = False) -> SourceRow:
    try:
        found = json.loads(
            line,
            object_pairs_hook=once_each,
            parse_constant=refuse_constant,
            parse_float=number_of,
            parse_int=number_of,
        )
    except RecursionError:
        return SourceRow(number, {}, "The line is nested too deeply: it must be one flat object.")
    except ValueError as error:
        return SourceRow(number, {}, f"The line is not JSON that can be read: {error}.")
    if not isinstance(found, dict):
        return SourceRow(number, {}, "The line must be one JSON object, with a member per column.")
    for name, value in found.items():
        problem = "" if nested and isinstance(value, dict | list) else problem_of(name, value)
        if problem:
            return SourceRow(number, {}, problem)
    return SourceRow(number, found)


def once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the member {shown(twice)} stands there more than once")
    return members


def refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number")


def number_of(text: str) -> Decimal | int:
    if len(text) > MAX_DIGITS:
        raise ValueError(f"a number has {len(text)} digits, at most {MAX_DIGITS} are read")
    return int(text) if text.lstrip("-").isdigit() else Decimal(text)


def problem_of(name: str, value: object) -> str:
    if isinstance(value, dict):
        return f"The member {shown(name)} is an object: a single value is expected."
    if isinstance(value, str) and len(value) > MAX_CELL_CHARACTERS:
        return (
            f"The member {shown(name)} has {len(value)} characters, at most {MAX_CELL_CHARACTERS} are read."
        )
    if isinstance(value, list) and not all(isinstance(part, str) for part in value):
        return f"The member {shown(name)} must be a list of words."
    return ""

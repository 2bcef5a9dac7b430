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
    refuse_cut_off,
    refuse_no_rows,
)
from api.exchange.refusals import FileRefused
from api.wire.cells import shown
from inventory.facts import Fact, fact

MAX_DIGITS = 60


def read_ndjson(content: bytes, *, nested: bool = False) -> Sheet:
    """`nested` lets members be objects and lists, as messages of the feed have them."""
    text, notes = decoded(content)
    lines = [(number, line) for number, line in enumerate(text.split("\n"), 1) if line.strip()]
    if len(lines) > MAX_ROWS:
        raise FileRefused(fact("file_has_too_many_rows", most=MAX_ROWS))
    rows = [read_line(number, line, nested=nested) for number, line in lines]
    refuse_cut_off(text, rows)
    refuse_no_rows(rows)
    columns = tuple(dict.fromkeys(name for row in rows for name in row.cells))
    if len(columns) > MAX_COLUMNS:
        raise FileRefused(fact("file_has_too_many_columns", columns=len(columns), most=MAX_COLUMNS))
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
        return SourceRow(number, {}, fact("row_nested_too_deeply"))
    except ValueError as error:
        return SourceRow(number, {}, fact("row_not_json", problem=str(error)))
    if not isinstance(found, dict):
        return SourceRow(number, {}, fact("row_not_object"))
    for name, value in found.items():
        problem = None if nested and isinstance(value, dict | list) else problem_of(name, value)
        if problem:
            return SourceRow(number, {}, problem)
    return SourceRow(number, found)


def once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the member '{shown(twice)}' is named more than once")
    return members


def refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number")


def number_of(text: str) -> Decimal | int:
    if len(text) > MAX_DIGITS:
        raise ValueError(f"a number has {len(text)} digits, at most {MAX_DIGITS} are read")
    return int(text) if text.lstrip("-").isdigit() else Decimal(text)


def problem_of(name: str, value: object) -> Fact | None:
    if isinstance(value, dict):
        return fact("member_is_object", member=shown(name))
    if isinstance(value, str) and len(value) > MAX_CELL_CHARACTERS:
        return fact("member_too_long", member=shown(name), length=len(value), most=MAX_CELL_CHARACTERS)
    if isinstance(value, list) and not all(isinstance(part, str) for part in value):
        return fact("member_not_list_of_words", member=shown(name))
    return None

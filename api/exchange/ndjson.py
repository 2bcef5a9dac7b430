"""Newline-delimited JSON to rows: one object a line, every member once, finite numbers only."""

import json
from collections.abc import Iterator
from contextlib import suppress
from decimal import Decimal
from itertools import islice
from typing import Any, NoReturn

from api.exchange.reading import (
    ABSENT,
    MAX_CELL_CHARACTERS,
    MAX_COLUMNS,
    Sheet,
    SourceRow,
    SourceRows,
    refuse_incomplete,
    within_rows,
)
from api.exchange.refusals import FileRefused
from api.exchange.text_files import TextFile
from api.wire.cells import shown
from inventory.facts import Fact, fact

MAX_DIGITS = 60
Members = dict[str, Any]


def read_ndjson(text: TextFile, *, nested: bool = False, looked_at: int | None = None) -> Sheet:
    """`nested` lets members be objects and lists, as messages of the feed have them."""
    columns = columns_in(text, looked_at)
    rows = SourceRows(lambda: json_rows(text, columns, nested=nested))
    return Sheet(columns, rows, text.notes, expected_rows=text.line_count)


def columns_in(text: TextFile, looked_at: int | None = None) -> tuple[str, ...]:
    """Every member that some line has; what is wrong with a line is said when the rows are read."""
    names: dict[str, None] = {}
    for _, line in islice(within_rows(filled_lines(text)), looked_at):
        with suppress(ValueError, RecursionError):
            found = json.loads(line)
            names.update(dict.fromkeys(found) if isinstance(found, dict) else {})
        if len(names) > MAX_COLUMNS:
            raise FileRefused(fact("file_has_too_many_columns", columns=len(names), most=MAX_COLUMNS))
    return tuple(names)


def json_rows(text: TextFile, columns: tuple[str, ...], *, nested: bool) -> Iterator[SourceRow]:
    last: SourceRow | None = None
    for number, line in filled_lines(text):
        found = read_line(line, nested=nested)
        if isinstance(found, Fact):
            last = SourceRow(number, (), found)
        else:
            last = SourceRow(number, [found.get(name, ABSENT) for name in columns])
        yield last
    refuse_incomplete(last, text)


def filled_lines(text: TextFile) -> Iterator[tuple[int, str]]:
    return ((number, line) for number, line in enumerate(text.lines(newline="\n"), 1) if line.strip())


def read_line(line: str, *, nested: bool) -> Members | Fact:
    """The members of a line, or why it cannot be read."""
    try:
        found = json.loads(
            line,
            object_pairs_hook=once_each,
            parse_constant=refuse_constant,
            parse_float=number_of,
            parse_int=number_of,
        )
    except RecursionError:
        return fact("row_nested_too_deeply")
    except ValueError as error:
        return fact("row_not_json", problem=str(error))
    if not isinstance(found, dict):
        return fact("row_not_object")
    for name, value in found.items():
        problem = None if nested and isinstance(value, dict | list) else problem_of(name, value)
        if problem:
            return problem
    return found


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

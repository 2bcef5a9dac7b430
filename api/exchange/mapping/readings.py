"""How the cells of one column can be read: of all readings those are kept that fit every cell, and differ."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from api.exchange.mapping.misfit import Misfit
from api.exchange.mapping.moments import read_hour, read_moment
from api.exchange.mapping.numbers import length, length_units, number
from api.exchange.mapping.units import WrittenUnit
from api.exchange.mapping.vocabulary import Words, allowed_words, is_blank, word_of
from api.exchange.tables import FileTable
from api.wire import cells
from api.wire.cells import Cell, CellRefused, is_empty
from api.wire.declaration import Column

MARKS = ("point", "comma")
ORDERS = ("dmy", "mdy")
Read = Callable[[Cell], str]


@dataclass(frozen=True)
class CellReading:
    """One way to read a column. `name` is what is remembered, such as `dmy` or `comma in`."""

    name: str
    read: Read


@dataclass(frozen=True)
class ColumnReadings:
    """The readings that fit, the first one being used unless `is_open`; and three cells on which they differ."""

    fitting: tuple[CellReading, ...]
    examples: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @property
    def is_open(self) -> bool:
        return len(self.fitting) > 1


def is_words(column: Column) -> bool:
    return bool(allowed_words(column))


def readings_of(column: Column, unit: WrittenUnit | None, words: Words) -> tuple[CellReading, ...]:
    parse = column.parse
    if parse in (cells.moment, cells.day):
        return tuple(CellReading(order, moment_reader(column, order)) for order in ORDERS)
    if parse is cells.hour:
        return (CellReading("hour", read_hour),)
    if is_words(column):
        return (CellReading("words", word_reader(column, words)),)
    if isinstance(parse, cells.LengthMm):
        return tuple(
            CellReading(f"{mark} {one.name}", length_reader(column, mark, one))
            for one in length_units(unit)
            for mark in MARKS
        )
    if column.decimal or isinstance(parse, cells.Number | cells.Whole) or column.name == "value":
        return tuple(CellReading(mark, number_reader(column, mark, unit)) for mark in MARKS)
    if isinstance(parse, cells.Code):
        return (CellReading("as_written", as_text), CellReading("leading_zeros_lost", refuse_numbers))
    if parse is cells.currency:
        return (CellReading("words", currency_reader(words)),)
    return (CellReading("as_written", as_text),)


def moment_reader(column: Column, order: str) -> Read:
    def read(cell: Cell) -> str:
        found = read_moment(cell, order)
        if column.parse is cells.day:
            if found.has_time and not found.is_aware and found.at.hour:
                raise Misfit
            return f"{found.at:%Y-%m-%d}"
        return found.at.isoformat()

    return read


def word_reader(column: Column, words: Words) -> Read:
    def read(cell: Cell) -> str:
        if isinstance(column.parse, cells.Words):
            parts = (
                cell if isinstance(cell, list) else str(cell).replace("+", ";").replace(",", ";").split(";")
            )
            return ";".join(word(str(part)) for part in parts if str(part).strip())
        return word("yes" if cell is True else "no" if cell is False else str(cell))

    def word(text: str) -> str:
        found = word_of(text, words)
        if found is None:
            raise Misfit
        return found

    return read


def currency_reader(words: Words) -> Read:
    return lambda cell: word_of(str(cell), words) or str(cell).strip().upper()


def length_reader(column: Column, mark: str, unit: WrittenUnit) -> Read:
    return lambda cell: plausible(length(cell, column.name, mark, unit), column, cell)


def plausible(text: str, column: Column, cell: Cell) -> str:
    """A length whose unit is not in the cell has to be one that the column usually has."""
    usual = getattr(column.parse, "plausible", None)
    is_said = isinstance(cell, str) and any(sign.isalpha() or sign in "\"″”'/" for sign in cell)
    if usual is not None and not is_said and usual.question(Decimal(str(column.parse(text)))):
        raise Misfit
    return text


def number_reader(column: Column, mark: str, unit: WrittenUnit | None) -> Read:
    places = getattr(column.parse, "places", None)
    return lambda cell: number(cell, column.name, mark, unit, places)


def as_text(cell: Cell) -> str:
    if isinstance(cell, int | Decimal) and not isinstance(cell, bool):
        return format(Decimal(cell), "f")
    if not isinstance(cell, str):
        raise Misfit
    return cell.strip() if cell.strip() else ""


def refuse_numbers(cell: Cell) -> str:
    if isinstance(cell, int | Decimal):
        raise Misfit
    return as_text(cell)


def accepted(reading: CellReading, cell: Cell, column: Column) -> str | None:
    """The cell as the strict reader of files takes it; None where this reading does not fit."""
    try:
        text = reading.read(cell)
        is_local = column.parse is cells.moment and datetime.fromisoformat(text).tzinfo is None
        column.parse(f"{text}+00:00" if is_local else text)
    except (Misfit, CellRefused, ArithmeticError):
        return None
    return text


def filled(column_cells: Sequence[Cell], column: Column, words: Words) -> list[Cell]:
    """Each cell once, without blanks; a dash may be a word of the column."""
    found: dict[str, Cell] = {}
    for cell in column_cells:
        if not is_empty(cell) and not stands_for_nothing(cell, column, words):
            found.setdefault(f"{type(cell).__name__} {cell}", cell)
    return list(found.values())


def stands_for_nothing(cell: Cell, column: Column, words: Words) -> bool:
    if not isinstance(cell, str) or not is_blank(cell):
        return False
    return not (is_words(column) and word_of(cell, words) is not None)


def fit(
    table: FileTable, column: Column, column_cells: Sequence[Cell], unit: WrittenUnit | None, words: Words
) -> ColumnReadings:
    """Cells that no reading fits are left aside: they are refused by their line later."""
    distinct = filled(column_cells, column, words)
    readings = readings_of(column, unit, words)
    if isinstance(column.parse, cells.Code):
        has_numbers = any(isinstance(cell, int | Decimal) for cell in distinct)
        return ColumnReadings(readings if has_numbers else readings[:1], code_examples(distinct))
    values = {one.name: [accepted(one, cell, column) for cell in distinct] for one in readings}
    judged = [at for at in range(len(distinct)) if any(found[at] is not None for found in values.values())]
    whole = [one for one in readings if all(values[one.name][at] is not None for at in judged)] or list(
        readings
    )
    kept: dict[tuple[str | None, ...], CellReading] = {}
    for one in whole:
        kept.setdefault(tuple(values[one.name][at] for at in judged), one)
    fitting = tuple(kept.values())
    return ColumnReadings(fitting, examples(distinct, judged, fitting, values))


def code_examples(distinct: Sequence[Cell]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    numbers = [str(cell) for cell in distinct if isinstance(cell, int | Decimal)][:3]
    return tuple((text, (text, "")) for text in numbers)


def examples(
    distinct: Sequence[Cell],
    judged: Sequence[int],
    fitting: Sequence[CellReading],
    values: dict[str, list[str | None]],
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    rows = [(str(distinct[at]), tuple(values[one.name][at] or "" for one in fitting)) for at in judged]
    return tuple(row for row in rows if len(set(row[1])) > 1)[:3]

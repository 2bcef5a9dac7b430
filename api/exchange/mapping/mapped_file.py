"""A file with headings of its own → rows of a kind, and the questions that are open.

The rows are text as the strict readers of files take it, so that checks, writing and results are those of every other file.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import IO

from api.edge.scope import visible_to_caller
from api.exchange.mapping import questions
from api.exchange.mapping.headings import Proposal, ProposalBasis, is_heading_of, means, propose
from api.exchange.mapping.mapped_rows import MappedColumn, MappedRows
from api.exchange.mapping.notations import SPLITTERS, Parts, parts_of
from api.exchange.mapping.questions import AS_SIDE, FileQuestion
from api.exchange.mapping.readings import (
    ColumnReadings,
    accepted,
    filled,
    fit,
    is_words,
    readings_of,
    stands_for_nothing,
)
from api.exchange.mapping.sides import SIDE, SIDES, side_named, split_by_side
from api.exchange.mapping.units import WrittenUnit
from api.exchange.mapping.untidy import RawTable, read_table
from api.exchange.mapping.vocabulary import Words, is_blank, known_words, word_of
from api.exchange.mapping.zones import Zones
from api.exchange.message_tables import MESSAGE_TABLES
from api.exchange.reading import Sheet, SourceRows
from api.exchange.refusals import FileRefused
from api.exchange.results import ImportResult
from api.exchange.tables import TABLES, FileTable
from api.wire import cells
from api.wire.cells import Cell, is_empty
from api.wire.declaration import Column
from drives.models import Plant, Position
from inventory.facts import Fact, fact
from inventory.models import Storeroom

SOLE: Mapping[str, type[Plant | Storeroom]] = {"plant": Plant, "storeroom": Storeroom}
"""Where there is one alone, it is meant by a file that names none."""
LEFT_OUT = "headings_left_out"
ENOUGH = 0.5
"""A heading whose cells do not fit its column in this share of them is asked about."""


@dataclass(frozen=True)
class Remembered:
    """What a source is known to mean, or what somebody has answered: by the keys of the questions."""

    source: str = ""
    answers: Mapping[str, str] = field(default_factory=dict)
    timezone: str = ""
    rows_at: str = ""

    def with_answers(self, answers: Mapping[str, str]) -> "Remembered":
        zone = answers.get("zone", self.timezone)
        return replace(self, answers={**self.answers, **answers}, timezone=zone)

    def words_of(self, column: str) -> dict[str, str]:
        begin = f"word:{column}:"
        return {key.removeprefix(begin): word for key, word in self.answers.items() if key.startswith(begin)}


@dataclass(frozen=True)
class MappedFile:
    kind: str
    table: RawTable
    proposals: tuple[Proposal, ...]
    questions: tuple[FileQuestion, ...]
    columns: tuple[MappedColumn, ...]
    notes: tuple[Fact, ...]
    rows: MappedRows

    @property
    def sheet(self) -> Sheet:
        """The rows for `run_import`; refused while a question is open."""
        return self.sheet_despite("")

    def sheet_despite(self, *about: str) -> Sheet:
        """As `sheet`, although questions of these kinds are open: their headings are left out, their cells refused row by row."""
        still = [one for one in self.questions if one.key.partition(":")[0] not in about]
        if still:
            raise FileRefused(*(one.text for one in still))
        notes = (*self.table.notes, *self.notes)
        return Sheet(self.rows.names, SourceRows(self.rows.read), notes, expected_rows=len(self.table.rows))

    @property
    def heading_of(self) -> dict[str, str]:
        return {one.column.name: one.heading for one in self.columns if one.heading}

    def read_elsewhere(self, headings: Collection[str]) -> "MappedFile":
        """Without these headings among those that were left out: another kind of the same sheet reads them."""
        left_out = [one.heading for one in self.proposals if not one.column and not one.is_open]
        still = [one for one in left_out if one not in headings]
        notes = tuple(one for one in self.notes if one.code != LEFT_OUT)
        return replace(self, notes=(*notes, *notes_of_left_out(still)))

    def with_headings(self, result: ImportResult) -> ImportResult:
        """Errors name the heading of the file in place of our column."""
        heading_of = self.heading_of
        rows = tuple(
            replace(
                row,
                errors=tuple(replace(e, column=heading_of.get(e.column, e.column)) for e in row.errors),
            )
            for row in result.row_results
        )
        return replace(result, row_results=rows)


def notes_of_left_out(headings: Sequence[str]) -> list[Fact]:
    return [fact(LEFT_OUT, headings=", ".join(headings))] if headings else []


def table_of_kind(kind: str) -> FileTable:
    return {**TABLES, **MESSAGE_TABLES}[kind]


def map_file(
    stream: IO[bytes], *, kind: str, remembered: Remembered | None = None, sheet: str = ""
) -> MappedFile:
    known = remembered or Remembered()
    table = table_of_kind(kind)
    return Mapper(table, raw_of(stream, table, known, sheet), known).map()


def unchanged(raw: RawTable) -> RawTable:
    return raw


def raw_of(stream: IO[bytes], table: FileTable, known: Remembered, sheet: str) -> RawTable:
    return read_table(
        stream,
        is_known=lambda text: is_heading_of(table, text),
        sheet=sheet or table.kind,
        rows_at=known.rows_at,
    )


def map_parts(
    stream: IO[bytes],
    *,
    kind: str,
    remembered: Remembered,
    sheet: str = "",
    elsewhere: Collection[str] = (),
    prepared: Callable[[RawTable], RawTable] = unchanged,
) -> tuple[MappedFile, ...]:
    """As `map_file`; a row for each drive becomes one for each of its two positions. `prepared` says what is left of the rows."""
    table = table_of_kind(kind)
    raw = prepared(raw_of(stream, table, remembered, sheet))
    parts = split_by_side(raw, lambda text: is_heading_of(table, text)) if kind == "positions" else (raw,)
    return tuple(Mapper(table, part, remembered, elsewhere).map() for part in parts)


class Mapper:
    """Goes through the headings of one file. Those that another kind of the same sheet takes `elsewhere` are not asked about."""

    def __init__(
        self, table: FileTable, raw: RawTable, known: Remembered, elsewhere: Collection[str] = ()
    ) -> None:
        self.table, self.raw, self.known, self.elsewhere = table, raw, known, elsewhere
        self.by_name = {column.name: column for column in table.every_column}
        self.zones = Zones(known.timezone)
        self.questions: list[FileQuestion] = []
        self.notes: list[Fact] = []
        self.columns: dict[str, MappedColumn] = {}
        self.mapped: set[str] = set()
        self.beside: dict[str, list[Cell]] = {}

    def map(self) -> MappedFile:
        proposed = propose(self.table, self.raw.headings, self.known.answers)
        claimed = {one.column for one in proposed if one.column}
        proposals = tuple(self.checked(one, claimed) for one in proposed)
        self.mapped = {one.column for one in proposals}
        self.beside = self.said_beside(proposals)
        for one in proposals:
            if one.is_open:
                self.questions.append(questions.of_heading(one, self.raw.column(one.heading)))
            elif one.column in self.by_name:
                self.take(one)
        self.fill_missing(proposals)
        self.ask_for_zone()
        left_out = [one.heading for one in proposals if not one.column and not one.is_open]
        self.notes += notes_of_left_out(left_out)
        columns = tuple(self.columns.values())
        rows = MappedRows(self.raw, columns, self.zones)
        return MappedFile(
            self.table.kind, self.raw, proposals, tuple(self.questions), columns, tuple(self.notes), rows
        )

    def checked(self, one: Proposal, claimed: set[str]) -> Proposal:
        """By what the cells hold: a proposal that they do not look like becomes a question, and a candidate goes."""
        if one.basis == ProposalBasis.ANSWERED:
            return one
        if one.column and self.share_fitting(one, one.column) >= ENOUGH:
            return one
        if one.heading in self.elsewhere:
            return replace(one, column="", basis=ProposalBasis.NONE, candidates=())
        if one.column:
            return replace(one, column="", basis=ProposalBasis.NONE, candidates=(one.column,))
        candidates = [
            name
            for name in (*one.candidates, *self.moments_missing(claimed))
            if name not in claimed and self.share_fitting(one, name) >= ENOUGH
        ]
        return replace(one, candidates=tuple(dict.fromkeys(candidates)))

    def moments_missing(self, claimed: set[str]) -> list[str]:
        """A heading over days may be the one that is wanted, whatever it is called."""
        return [
            column.name
            for column in self.table.every_column
            if column.required and column.parse is cells.moment and column.name not in claimed
        ]

    def share_fitting(self, one: Proposal, name: str) -> float:
        column = self.by_name[name]
        words, known = self.words(column), self.known.words_of(name)
        distinct = filled(self.own_cells(one.heading, name), column, words)
        readings = readings_of(column, one.unit, words)
        fitting = sum(
            str(cell) in known or any(accepted(reading, cell, column) is not None for reading in readings)
            for cell in distinct
        )
        return fitting / len(distinct) if distinct else 1.0

    def words(self, column: Column) -> Words:
        return known_words(self.table, column)

    def own_cells(self, heading: str, column: str) -> list[Cell]:
        return [parts_of(column, cell).get(column) for cell in self.raw.column(heading)]

    def said_beside(self, proposals: Sequence[Proposal]) -> dict[str, list[Cell]]:
        """What cells of one column say of another that has a heading too: it counts where that one is empty."""
        found: dict[str, list[Cell]] = {}
        for one in proposals:
            if one.column not in SPLITTERS:
                continue
            for at, cell in enumerate(self.raw.column(one.heading)):
                for name, said in parts_of(one.column, cell).items():
                    if name != one.column and name in self.mapped:
                        found.setdefault(name, [None] * len(self.raw.rows))[at] = said
        return found

    def take(self, one: Proposal) -> None:
        """The column of a heading, and those that its cells say beside it."""
        parts = [parts_of(one.column, cell) for cell in self.raw.column(one.heading)]
        if one.column == "chain" and "strands" not in self.mapped:
            parts = self.with_strands(one.heading, parts)
        names = dict.fromkeys([one.column, *(name for part in parts for name in part)])
        for name in names:
            if name not in self.by_name:
                continue
            own = [part.get(name) for part in parts]
            if name == one.column:
                beside = self.beside.get(name, own)
                own = [said if is_empty(cell) else cell for cell, said in zip(own, beside, strict=True)]
                self.columns[name] = self.column_of(name, one.heading, own, one.unit)
            elif name not in self.columns and name not in self.mapped:
                self.columns[name] = self.column_of(name, one.heading, own, one.unit, is_beside=True)

    def with_strands(self, heading: str, parts: Sequence[Parts]) -> list[Parts]:
        """A chain that says no number of strands: `60` is one of one strand to most, and a question."""
        silent = [
            part
            for part in parts
            if isinstance(chain := part.get("chain"), str) and not is_blank(chain) and "strands" not in part
        ]
        answer = self.known.answers.get("missing:strands")
        if silent and answer is None:
            self.questions.append(questions.of_strands(heading, [part["chain"] for part in silent]))
        if not silent or not answer:
            return list(parts)
        return [{**part, "strands": answer} if part in silent else part for part in parts]

    def column_of(
        self,
        name: str,
        heading: str,
        own: Sequence[Cell],
        unit: WrittenUnit | None,
        *,
        is_beside: bool = False,
    ) -> MappedColumn:
        column, words = self.by_name[name], self.words(self.by_name[name])
        remembered = self.known.words_of(name)
        own = [remembered.get(str(cell), cell) for cell in own]
        found = fit(self.table, column, own, unit, words)
        chosen = self.known.answers.get(f"reading:{heading}")
        by_answer = [one for one in readings_of(column, unit, words) if one.name == chosen]
        if isinstance(column.parse, cells.Code) and not self.raw.is_workbook:
            # Only a spreadsheet loses zeros: elsewhere a number is as it was written.
            found = replace(found, fitting=found.fitting[:1])
        if found.is_open and not by_answer and not is_beside:
            self.questions.append(questions.of_reading(heading, found))
        if not is_beside:
            self.ask_of_words(heading, column, own, words)
        self.note(heading, found, column)
        reading = (by_answer or found.fitting)[0]
        return MappedColumn(column, heading, tuple(own), reading, words)

    def ask_of_words(self, heading: str, column: Column, own: Sequence[Cell], words: Words) -> None:
        if not is_words(column) or isinstance(column.parse, cells.Words):
            return
        unknown = Counter(
            cell.strip()
            for cell in own
            if isinstance(cell, str)
            and cell.strip()
            and not stands_for_nothing(cell, column, words)
            and word_of(cell, words) is None
        )
        self.questions += [questions.of_word(heading, column, word, times) for word, times in unknown.items()]

    def note(self, heading: str, found: ColumnReadings, column: Column) -> None:
        """How cells were read that another file could mean otherwise."""
        name = found.fitting[0].name
        if not found.is_open and name not in ("as_written", "words", "hour", "point", "point mm", "dmy"):
            self.notes.append(fact("column_read_as", heading=heading, reading=name))

    def fill_missing(self, proposals: Sequence[Proposal]) -> None:
        offered = {name for one in proposals for name in one.candidates}
        unused = [one.heading for one in proposals if not one.column]
        for name, column in self.by_name.items():
            answer = self.known.answers.get(f"missing:{name}")
            if name in self.columns:
                continue
            if answer is None:
                answer = self.made_without_asking(column, offered)
            if answer is not None:
                self.columns[name] = MappedColumn.made(column, answer, self.words(column))
            elif column.required and name not in offered:
                made = tuple(self.tags_of_drives(column))
                self.questions.append(questions.of_missing(column, self.codes_of(column), unused, made))
            elif name in self.table.key:
                self.columns[name] = MappedColumn.made(column, "", self.words(column))

    def codes_of(self, column: Column) -> dict[str, list[str]]:
        model, field_name = SOLE.get(column.name), "code"
        if column.lookup is not None:
            model, field_name = column.lookup.model, column.lookup.fields[-1]
        if model is None:
            return {}
        rows = visible_to_caller(model._default_manager.order_by(field_name))
        codes = rows.values_list(field_name, flat=True)[: questions.MOST_CODES + 1]
        found = list(dict.fromkeys(codes))
        return {column.name: found} if len(found) <= questions.MOST_CODES else {}

    def made_without_asking(self, column: Column, offered: Collection[str]) -> str | None:
        """The only plant or storeroom there is; the code for a name that no heading gives."""
        if column.name == "source":
            return self.known.source or None
        if column.name in offered or not (column.required or column.name in self.table.key):
            return None
        if column.name in SOLE:
            codes = self.codes_of(column).get(column.name, ())
            if len(codes) == 1:
                self.notes.append(fact("only_one_taken", column=column.name, code=codes[0]))
                return codes[0]
        key = self.columns.get(self.table.key[-1])
        if column.name == "name" and key is not None and key.heading:
            self.notes.append(fact("name_made_from", heading=key.heading))
            return f"{{{key.heading}}}"
        return None

    def tags_of_drives(self, column: Column) -> Iterator[tuple[str, str]]:
        """How the tag of a position may follow from that of its drive, each with an example."""
        for at, heading in enumerate(self.raw.headings):
            if not means("drives", heading, "tag"):
                continue
            tag = next((str(row.cells[at]) for row in self.raw.rows if row.cells[at]), "")
            if self.table.model is Position and column.name == "tag" and SIDE in self.raw.headings:
                yield f"{{{heading}}}-{{{SIDE}}}", ", ".join(f"{tag}-{side.upper()}" for side in SIDES)
            elif column.lookup and column.lookup.model is Position:
                yield from self.tags_by_side(heading, tag)
                yield from ((f"{{{heading}}}-{side.upper()}", f"{tag}-{side.upper()}") for side in SIDES)

    def tags_by_side(self, heading: str, tag: str) -> Iterator[tuple[str, str]]:
        for side in self.raw.headings:
            if means("positions", side, "role"):
                found = dict.fromkeys(side_named(cell) for cell in self.raw.column(side) if cell)
                yield (
                    f"{{{heading}}}-{{{AS_SIDE}{side}}}",
                    ", ".join(f"{tag}-{one}" for one in list(found)[:2]),
                )

    def ask_for_zone(self) -> None:
        moments = [one for one in self.columns.values() if one.column.parse is cells.moment]
        rows = MappedRows(self.raw, tuple(self.columns.values()), self.zones)
        if moments and not self.zones.shared and rows.lacks_zone():
            self.questions.append(questions.of_zone(self.zones.all))
        elif count := rows.days_without_time():
            self.notes.append(fact("days_read_as_midnight", count=count))

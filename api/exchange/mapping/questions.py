"""What cannot be told from a file: one question for a column, never one for a cell."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from api.exchange.mapping.headings import Proposal
from api.exchange.mapping.readings import ColumnReadings
from api.exchange.mapping.vocabulary import allowed_words
from api.wire import cells
from api.wire.cells import Cell, is_empty, shown
from api.wire.declaration import Column
from inventory.facts import Fact, fact

EXAMPLES = 3
MOST_CODES = 30
CONTENT, RECEIVED = "{@content}", "{@received}"
"""In place of a cell: made from the content of the row, and the time at which the file came."""
AS_SIDE = "@side "
"""Before the name of a heading: DRIVER or DRIVEN for what its cell calls the side."""


@dataclass(frozen=True)
class Option:
    """`value` is what is answered; `label` says it where the value is no word of its own; `results` are the examples by it."""

    value: str
    label: Fact | None = None
    results: tuple[str, ...] = ()


@dataclass(frozen=True)
class FileQuestion:
    """`key` names it in the answers. `is_free`: another text than the options may be answered."""

    key: str
    text: Fact
    options: tuple[Option, ...]
    examples: tuple[str, ...] = ()
    is_free: bool = False


def samples(column_cells: Sequence[Cell]) -> tuple[str, ...]:
    filled = (shown(cell) for cell in column_cells if not is_empty(cell))
    return tuple(dict.fromkeys(filled))[:EXAMPLES]


def of_heading(one: Proposal, column_cells: Sequence[Cell]) -> FileQuestion:
    options = (*(Option(name) for name in one.candidates), Option("", fact("leave_heading_out")))
    return FileQuestion(
        f"heading:{one.heading}",
        fact("which_column_is_meant", heading=one.heading),
        options,
        samples(column_cells),
    )


def of_reading(heading: str, found: ColumnReadings) -> FileQuestion:
    options = tuple(
        Option(
            one.name, fact("reading_of_cells", reading=one.name), tuple(row[1][at] for row in found.examples)
        )
        for at, one in enumerate(found.fitting)
    )
    text = fact("which_reading_is_meant", heading=heading)
    return FileQuestion(f"reading:{heading}", text, options, tuple(row[0] for row in found.examples))


def of_word(heading: str, column: Column, word: str, times: int) -> FileQuestion:
    return of_code(heading, column, word, times, allowed_words(column))


def of_code(heading: str, column: Column, code: str, times: int, words: Sequence[str]) -> FileQuestion:
    options = (Option(one, fact("word_of_column", word=one)) for one in words)
    text = fact("which_word_is_meant", heading=heading, word=shown(code), count=times)
    key = f"word:{column.name}:{code}"
    return FileQuestion(key, text, (*options, Option("", fact("leave_cell_empty"))))


def of_missing(
    column: Column,
    codes: Mapping[str, Sequence[str]],
    headings: Sequence[str],
    made: Sequence[tuple[str, str]] = (),
) -> FileQuestion:
    """`codes` are those of the records that a column refers to, where they are few; `headings` those that nothing uses yet;
    `made` are texts with the cells of other headings, each with an example."""
    return FileQuestion(
        f"missing:{column.name}",
        fact("no_heading_gives_column", column=column.name),
        (
            *(Option(text, fact("made_from_cells", example=example, text=text)) for text, example in made),
            *missing_options(column, codes),
            *(Option(f"{{{name}}}", fact("cell_under_heading", heading=name)) for name in headings),
        ),
        is_free=True,
    )


def of_strands(heading: str, silent: Sequence[Cell]) -> FileQuestion:
    options = (*(Option(str(count), fact("strands_of_chain", count=count)) for count in (1, 2, 3)),)
    text = fact("chain_without_strands", heading=heading, count=len(silent))
    return FileQuestion(
        "missing:strands", text, (*options, Option("", fact("leave_cell_empty"))), samples(silent)
    )


def missing_options(column: Column, codes: Mapping[str, Sequence[str]]) -> Iterator[Option]:
    if column.name in ("reference", "external_id", "line"):
        yield Option(CONTENT, fact("made_from_content"))
    if column.parse is cells.moment:
        yield Option(RECEIVED, fact("time_of_receipt"))
    yield from (Option(one) for one in allowed_words(column))
    yield from (Option(one) for one in codes.get(column.name, ())[:MOST_CODES])


def of_zone(zones: Sequence[str]) -> FileQuestion:
    return FileQuestion("zone", fact("which_zone_is_meant"), tuple(map(Option, zones)), is_free=True)

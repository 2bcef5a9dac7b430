"""What is not clear in the files of a set: each question once for all files and kinds that ask it alike."""

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, suppress
from dataclasses import dataclass, replace
from typing import IO

from api.exchange.import_sets import (
    is_mapped,
    others_of,
    parts_of_sheet,
    sent_file,
    sheets_to_import,
    source_of,
)
from api.exchange.kept_readings import (
    ReadPart,
    keep_reading,
    kept_reading,
    what_it_rests_on,
    without_rows,
)
from api.exchange.mapping.answering import check_answers
from api.exchange.mapping.questions import FileQuestion
from api.exchange.mapping.remembered import remember, remembered
from api.exchange.refusals import FileRefused
from api.models import ImportSet, ImportSheet
from api.wording.record_kinds import file_kind
from inventory.facts import fact


@dataclass(frozen=True)
class MappedSheet:
    """A sheet with headings of its own; without `parts` it cannot be read, which its import says."""

    sheet: ImportSheet
    source: str
    parts: tuple[ReadPart, ...]


@dataclass(frozen=True)
class SetQuestion:
    """`askers` are the sheets and the keys under which each of them asks it."""

    question: FileQuestion
    askers: tuple[tuple[ImportSheet, str], ...]

    @property
    def key(self) -> str:
        """Names it on a form and in a file of answers."""
        sheet, key = self.askers[0]
        return f"{sheet.number} {key}"

    @property
    def headings(self) -> tuple[str, ...]:
        """Where two readings of several columns are asked about at once."""
        return tuple(dict.fromkeys(key.partition(":")[2] for _, key in self.askers))

    @property
    def titles(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(f"{sheet.title}: {file_kind(sheet.kind)}" for sheet, _ in self.askers))


def mapped_sheets(owner: ImportSet) -> list[MappedSheet]:
    """Those of the set whose headings or cells are their own."""
    found = []
    with ExitStack() as stack:
        files: dict[int, IO[bytes]] = {}

        def opened(sheet: ImportSheet) -> IO[bytes]:
            if sheet.file_id not in files:
                files[sheet.file_id] = stack.enter_context(sent_file(sheet.file))
            return files[sheet.file_id]

        for sheet in sheets_to_import(owner):
            source = source_of(owner, sheet)
            rests_on = what_it_rests_on(sheet, source, others_of(owner, sheet))
            is_kept, parts = kept_reading(sheet, rests_on)
            if not is_kept:
                parts = read_parts(owner, sheet, opened(sheet))
                keep_reading(sheet, rests_on, parts)
            if parts is not None:
                found.append(MappedSheet(sheet, source, parts))
    return found


def read_parts(owner: ImportSet, sheet: ImportSheet, file: IO[bytes]) -> tuple[ReadPart, ...] | None:
    """None where the strict readers take it as it is."""
    with suppress(FileRefused):
        if not is_mapped(owner, sheet, file):
            return None
        return tuple(map(without_rows, parts_of_sheet(file, sheet, owner)))
    return ()


def questions_of(sheets: list[MappedSheet]) -> list[SetQuestion]:
    found: dict[tuple[object, ...], SetQuestion] = {}
    for one, question in asked(sheets):
        about, _, name = question.key.partition(":")
        values = tuple(option.value for option in question.options)
        alike: tuple[object, ...] = (about, one.source, values if about == "reading" else name)
        if about == "zone":
            alike = (about,)
        before = found.get(alike)
        asker = (one.sheet, question.key)
        if before is None:
            found[alike] = SetQuestion(question, (asker,))
        elif asker not in before.askers:
            options = tuple(dict.fromkeys((*before.question.options, *question.options)))
            both = replace(before.question, options=options) if about != "reading" else before.question
            found[alike] = SetQuestion(both, (*before.askers, asker))
    return [with_headings(one) for one in found.values()]


def asked(sheets: list[MappedSheet]) -> Iterator[tuple[MappedSheet, FileQuestion]]:
    for one in sheets:
        for part in one.parts:
            for question in part.questions:
                yield one, question


def with_headings(one: SetQuestion) -> SetQuestion:
    if one.question.text.code != "which_reading_is_meant" or len(one.headings) < 2:
        return one
    text = fact("which_reading_is_meant", heading="', '".join(one.headings))
    return replace(one, question=replace(one.question, text=text))


def answer(sheets: list[MappedSheet], given: Mapping[str, str], headings: Mapping[str, str]) -> int:
    """Remember what was answered: `given` by key of a question (with the number of its sheet, or without), `headings` by number
    of the sheet and heading. Gives how many answers are new or changed.

    Raises FileRefused where an answer is none of those that can be given.
    """
    found: dict[tuple[str, str], dict[str, str]] = {}
    by_number = {one.sheet.number: one for one in sheets}
    for question in questions_of(sheets):
        said = given.get(question.key, given.get(question.askers[0][1]))
        if said is None:
            continue
        for sheet, key in question.askers:
            found.setdefault((by_number[sheet.number].source, sheet.kind), {})[key] = said
    for one in sheets:
        shown = {read.heading: read for part in one.parts for read in part.headings}
        for heading, read in shown.items():
            said = headings.get(f"{one.sheet.number} {heading}")
            if said not in (None, read.column):
                found.setdefault((one.source, one.sheet.kind), {})[f"heading:{heading}"] = said
    for (_, kind), answers in found.items():
        check_answers(kind, answers)
    return sum(remember(source, kind, answers) for (source, kind), answers in found.items())


def correct(sheets: list[MappedSheet], given: Mapping[str, str]) -> int:
    """Answers to what is not asked, as it was answered before or is a heading that was read. Gives how many are new or changed."""
    sources = {str(one.sheet.number): one.source for one in sheets}
    count = 0
    for one in sheets:
        known = {*remembered(one.source, one.sheet.kind).answers, *keys_of_headings(one)}
        found = {}
        for key, said in given.items():
            number, _, numbered = key.partition(" ")
            name = numbered if sources.get(number) == one.source else key
            if name in known:
                found[name] = said
        check_answers(one.sheet.kind, found)
        count += remember(one.source, one.sheet.kind, found)
    return count


def keys_of_headings(one: MappedSheet) -> set[str]:
    return {f"heading:{read.heading}" for part in one.parts for read in part.headings if not read.is_open}

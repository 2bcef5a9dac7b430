"""What is not clear in files that were sent together: one page of questions, and how each heading was read."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from django.http import HttpRequest

from api.exchange.kept_readings import ReadHeading
from api.exchange.mapping.mapped_file import table_of_kind
from api.exchange.refusals import FileRefused
from api.exchange.set_questions import MappedSheet, SetQuestion, answer
from api.models import AnswerAbout
from api.wording.file_columns import meaning_of
from api.wording.record_kinds import file_kind
from api.wording.sentences import sentence

MOST_BESIDE = 7
"""Options that stand one below the other; more are a list to choose from."""


@dataclass(frozen=True)
class ShownOption:
    value: str
    label: str
    results: str


@dataclass(frozen=True)
class ShownQuestion:
    asked: SetQuestion

    @property
    def field(self) -> str:
        return f"answer {self.asked.key}"

    @property
    def text_field(self) -> str:
        return f"text {self.asked.key}"

    @property
    def text(self) -> str:
        return sentence(self.asked.question.text)

    @property
    def meaning(self) -> str:
        """Of the column that no heading gives."""
        sheet, key = self.asked.askers[0]
        about, _, name = key.partition(":")
        return meaning_of(sheet.kind, name) if about == AnswerAbout.MISSING else ""

    @property
    def is_free(self) -> bool:
        return self.asked.question.is_free

    @property
    def are_many(self) -> bool:
        return len(self.asked.question.options) > MOST_BESIDE

    @property
    def examples(self) -> str:
        return "; ".join(self.asked.question.examples)

    @property
    def options(self) -> Iterator[ShownOption]:
        for one in self.asked.question.options:
            label = sentence(one.label) if one.label else one.value
            yield ShownOption(one.value, label, "; ".join(one for one in one.results if one))


@dataclass(frozen=True)
class ShownHeading:
    """One heading with its select: the column that is proposed is chosen."""

    field: str
    read: ReadHeading
    columns: tuple[str, ...]

    @property
    def choices(self) -> list[tuple[str, bool]]:
        names = dict.fromkeys((*self.read.candidates, *self.columns))
        return [(name, name == self.read.column) for name in names]


@dataclass(frozen=True)
class ShownMapping:
    """How the headings of one sheet were read."""

    mapped: MappedSheet

    @property
    def title(self) -> str:
        return f"{self.mapped.sheet.title}: {file_kind(self.mapped.sheet.kind)}"

    @property
    def notes(self) -> list[str]:
        facts = (one for part in self.mapped.parts for one in part.notes)
        return [sentence(one) for one in dict.fromkeys(facts)]

    @property
    def headings(self) -> list[ShownHeading]:
        sheet = self.mapped.sheet
        columns = tuple(column.name for column in table_of_kind(sheet.kind).every_column)
        found = {
            one.heading: ShownHeading(f"heading {sheet.number} {one.heading}", one, columns)
            for part in self.mapped.parts
            for one in part.headings
        }
        return list(found.values())


def mappings_of(sheets: Iterable[MappedSheet]) -> list[ShownMapping]:
    return [ShownMapping(one) for one in sheets if one.parts]


def take_answers(request: HttpRequest, sheets: list[MappedSheet]) -> tuple[int, str]:
    """What was chosen becomes the answers of the sources; a text in words wins over the option beside it. Gives how many are new, and what is wrong."""
    try:
        return answer(sheets, given_in(request.POST), said_of(request.POST, "heading ")), ""
    except FileRefused as refusal:
        return 0, " ".join(sentence(one) for one in refusal.facts)


def given_in(form: Mapping[str, str]) -> dict[str, str]:
    texts = {key: text.strip() for key, text in said_of(form, "text ").items() if text.strip()}
    return {**said_of(form, "answer "), **texts}


def said_of(form: Mapping[str, str], begin: str) -> dict[str, str]:
    """What was chosen or typed; a list that is left at "?" says nothing."""
    return {
        name.removeprefix(begin): said
        for name, said in form.items()
        if name.startswith(begin) and said != "?"
    }

"""The questions of a file on the command line: from a file of answers, or asked one by one."""

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, OutputWrapper

from api.exchange.mapping.answering import check_answers, read_answers, with_open_questions
from api.exchange.mapping.importing import import_mapped
from api.exchange.mapping.mapped_file import MappedFile, map_file
from api.exchange.mapping.questions import FileQuestion
from api.exchange.mapping.remembered import answers_of, remember, remembered
from api.exchange.refusals import FileRefused
from api.exchange.results import ImportResult
from api.wording.sentences import sentence, sentences


@dataclass
class MappingTalk:
    out: OutputWrapper
    kind: str
    source: str
    answers: Path | None

    def import_file(self, name: str, *, dry_run: bool, partial: bool) -> ImportResult:
        try:
            given = self.given()
            with Path(name).open("rb") as stream:
                mapped = self.answered(stream, given)
            if not dry_run:
                remember(self.source, self.kind, answers_of(mapped, given))
            return import_mapped(mapped, dry_run=dry_run, partial=partial, by="import_records")
        except FileRefused as refusal:
            raise CommandError(sentences(refusal.facts)) from refusal
        except OSError as error:
            raise CommandError(f"{error.filename} cannot be read: {error.strerror}.") from error

    def given(self) -> dict[str, str]:
        if self.answers is None or not self.answers.exists():
            return {}
        found = read_answers(self.answers.read_text(encoding="utf-8"))
        check_answers(self.kind, found)
        return found

    def answered(self, stream: Any, given: dict[str, str]) -> MappedFile:
        """The file with no open question; new answers are added to `given`."""
        while True:
            known = remembered(self.source, self.kind).with_answers(given)
            mapped = map_file(stream, kind=self.kind, remembered=known)
            if not mapped.questions:
                self.show(mapped)
                return mapped
            if self.answers is not None:
                self.answers.write_text(with_open_questions(given, mapped.questions), encoding="utf-8")
            if self.answers is not None or not sys.stdin.isatty():
                raise still_open(mapped.questions)
            for question in mapped.questions:
                answer = ask(self.out, question)
                check_answers(self.kind, {question.key: answer})
                given[question.key] = answer

    def show(self, mapped: MappedFile) -> None:
        for one in mapped.proposals:
            self.out.write(f"{one.heading} -> {one.column or '-'}")


def still_open(questions: Sequence[FileQuestion], *, places: Mapping[str, str] | None = None) -> CommandError:
    """`places`: by key of a question, the files that ask it."""
    asked = "\n".join(
        line
        for question in questions
        for line in lines_of(question, place=(places or {}).get(question.key, ""))
    )
    return CommandError(f"{asked}\n{len(questions)} questions are open: answer them with --answers FILE.")


def lines_of(question: FileQuestion, *, place: str = "") -> list[str]:
    shown = f" ({'; '.join(question.examples)})" if question.examples else ""
    lines = [place] if place else []
    lines.append(f"{question.key}: {sentence(question.text)}{shown}")
    for number, option in enumerate(question.options, 1):
        label = sentence(option.label) if option.label else option.value
        results = f": {'; '.join(option.results)}" if any(option.results) else ""
        lines.append(f"  {number}. {label} [{option.value}]{results}")
    return lines


def ask(out: OutputWrapper, question: FileQuestion, *, place: str = "") -> str:
    out.write("\n".join(lines_of(question, place=place)))
    while True:
        typed = input("> ").strip()
        if typed.isdigit() and 1 <= int(typed) <= len(question.options):
            return question.options[int(typed) - 1].value
        if question.is_free or typed in {option.value for option in question.options}:
            return typed

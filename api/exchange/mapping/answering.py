"""Answers to the questions of a file, out of a file or from a person."""

import json
from collections.abc import Iterable, Mapping

from api.exchange.mapping.mapped_file import table_of_kind
from api.exchange.mapping.questions import FileQuestion
from api.exchange.mapping.readings import MARKS, ORDERS
from api.exchange.refusals import FileRefused
from api.models import AnswerAbout
from api.wire.cells import CellRefused, shown, timezone
from inventory.facts import fact

LONGEST = 200


def read_answers(text: str) -> dict[str, str]:
    """A JSON object with a text for each question; null stands for one that is not answered yet."""
    try:
        found = json.loads(text)
    except ValueError as error:
        raise FileRefused(fact("answers_not_readable")) from error
    if not isinstance(found, dict) or not all(isinstance(one, str | None) for one in found.values()):
        raise FileRefused(fact("answers_not_readable"))
    return {key: answer for key, answer in found.items() if answer is not None}


def with_open_questions(given: Mapping[str, str], questions: Iterable[FileQuestion]) -> str:
    """The answers with a null for each open question, for a person to fill in."""
    return json.dumps({**given, **{one.key: None for one in questions}}, ensure_ascii=False, indent=2) + "\n"


def check_answers(kind: str, answers: Mapping[str, str]) -> None:
    """Refuses an answer that no question has."""
    columns = {column.name for column in table_of_kind(kind).every_column}
    problems = []
    for key, answer in answers.items():
        about, _, name = key.partition(":")
        allowed: Iterable[str] = ()
        if about == AnswerAbout.HEADING:
            allowed = ("", *sorted(columns))
        elif about == AnswerAbout.READING:
            allowed = () if set(answer.split()) <= READINGS else sorted(READINGS)
        elif about == AnswerAbout.MISSING:
            allowed = () if name in columns else ("",)
        elif about == AnswerAbout.ZONE:
            allowed = () if is_zone(answer) else ("Europe/Vienna", "UTC")
        elif about not in AnswerAbout.values:
            allowed = AnswerAbout.values
        if (allowed and answer not in allowed) or len(answer) > LONGEST or len(name) > LONGEST:
            problems.append(
                fact("answer_not_known", key=shown(key), answer=shown(answer), allowed=", ".join(allowed))
            )
    if problems:
        raise FileRefused(*problems)


READINGS = frozenset({*MARKS, *ORDERS, "mm", "in", "cm", "m", "as_written", "leading_zeros_lost"})


def is_zone(name: str) -> bool:
    try:
        timezone(name)
    except CellRefused:
        return False
    return True

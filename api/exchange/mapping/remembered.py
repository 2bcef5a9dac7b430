"""What is known of a source, from its rows and back to them."""

from collections.abc import Mapping

from django.db import transaction

from api.edge.change_log import log_creation, logging_changes
from api.exchange.mapping.mapped_file import MappedFile, Remembered
from api.models import AnswerAbout, SourceAnswer


def remembered(source: str, kind: str) -> Remembered:
    found = (
        {row.key: row.answer for row in SourceAnswer.objects.filter(source=source, kind=kind)}
        if source
        else {}
    )
    return Remembered(
        source=source,
        answers=found,
        timezone=found.get(AnswerAbout.ZONE, ""),
        rows_at=found.get(AnswerAbout.ROWS_AT, ""),
    )


def answers_of(mapped: MappedFile, given: Mapping[str, str]) -> dict[str, str]:
    """What was answered, and the headings as they were shown: so that the next file of the source asks nothing."""
    headings = {f"heading:{one.heading}": one.column for one in mapped.proposals if not one.is_open}
    return {**headings, **given}


@transaction.atomic
def remember(source: str, kind: str, answers: Mapping[str, str]) -> int:
    """Writes what is new or changed; gives how many rows that were."""
    stored = {row.key: row for row in SourceAnswer.objects.filter(source=source, kind=kind)}
    count = 0
    for key, answer in answers.items():
        about, _, name = key.partition(":")
        row = stored.get(key)
        if row is None:
            values = {"source": source, "kind": kind, "about": about, "name": name, "answer": answer}
            log_creation(SourceAnswer.objects.create(**values))
        elif row.answer != answer:
            with logging_changes(SourceAnswer.objects.filter(pk=row.pk)):
                row.answer = answer
                row.save(update_fields=["answer", "updated_at"])
        else:
            continue
        count += 1
    return count

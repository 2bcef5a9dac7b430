"""What is wrong with a record taken by itself, so that a writer can refuse it in words."""

from datetime import datetime, timedelta

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

CLOCKS_APART = timedelta(minutes=5)
"""How far the clock of a sender may run ahead before its date counts as one of the future."""


class RecordRefusal(ValueError):  # noqa: N818 - reads as the refusal it is
    """Nothing was recorded; `field` names what to change and `sentence` says how."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


def refuse_unsound_columns(record: models.Model, refusal: type[RecordRefusal] = RecordRefusal) -> None:
    """Lengths, words and digits, as the model has them; the first that is wrong, in its own sentence."""
    for column in record._meta.concrete_fields:
        value = getattr(record, column.attname)
        if isinstance(value, str) and "\x00" in value:
            raise refusal(column.name, f"{column.name} must not contain a zero character.")
    related = {column.name for column in record._meta.concrete_fields if column.is_relation}
    try:
        record.clean_fields(exclude=related)
    except ValidationError as error:
        name, sentences = next(iter(error.message_dict.items()))
        raise refusal(name, f"{name}: {sentences[0]}") from error


def refuse_moment(
    field: str, moment: datetime, now: datetime, refusal: type[RecordRefusal] = RecordRefusal
) -> None:
    """A moment needs an offset and lies in the past."""
    refuse_naive(field, moment, refusal)
    if moment > now + CLOCKS_APART:
        raise refusal(field, f"{field} lies in the future: record what has happened.")


def refuse_naive(field: str, moment: datetime, refusal: type[RecordRefusal] = RecordRefusal) -> None:
    if timezone.is_naive(moment):
        raise refusal(field, f"{field} needs an offset, such as 2024-03-04T06:30:00+01:00.")

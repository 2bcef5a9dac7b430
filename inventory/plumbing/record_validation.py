"""The checks of a single record, so that its writer can refuse it with a code."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from inventory.facts import Fact, Refusal, fact
from inventory.models.fields import GREATEST_QUANTITY

CLOCKS_APART = timedelta(minutes=5)
"""How far the clock of a sender may run ahead before its date counts as one in the future."""
EARLIEST_YEAR = 1900
"""A moment before it is a typing error: no record of a chain drive is older. Judgement of this project."""
DIGIT_CODES = {
    "max_digits": "too_many_digits",
    "max_decimal_places": "too_many_decimal_places",
    "max_whole_digits": "too_many_whole_digits",
}


class RecordRefusal(Refusal):
    """Nothing was recorded."""


def refuse_unsound_columns(record: models.Model, refusal: type[RecordRefusal] = RecordRefusal) -> None:
    """Refuse the first column with a wrong length, word or number of digits, by the model's own validators."""
    for column in record._meta.concrete_fields:
        value = getattr(record, column.attname)
        if isinstance(value, str) and "\x00" in value:
            raise refusal(fact("text_with_zero_character", field=column.name), field=column.name)
    related = {column.name for column in record._meta.concrete_fields if column.is_relation}
    try:
        record.clean_fields(exclude=related)
    except ValidationError as error:
        name, errors = next(iter(error.error_dict.items()))
        raise refusal(_column_fact(record, name, errors[0]), field=name) from error


def _column_fact(record: models.Model, name: str, error: ValidationError) -> Fact:
    params: dict[str, Any] = error.params if isinstance(error.params, dict) else {}
    if error.code == "max_length":
        length = len(str(getattr(record, name)))
        return fact("text_too_long", field=name, limit_characters=params["limit_value"], characters=length)
    if error.code in DIGIT_CODES:
        return fact(DIGIT_CODES[error.code], field=name, limit_digits=params["max"])
    if error.code == "min_value":
        return fact("value_below_least", field=name, least=params["limit_value"])
    column = record._meta.get_field(name)
    if choices := getattr(column, "choices", None):
        return word_not_known(name, getattr(record, name), (word for word, _ in choices))
    if name == "currency":
        return fact("currency_not_three_capitals", given=str(getattr(record, name)))
    return fact("value_not_valid", field=name, given=str(getattr(record, name)), rule=str(error.code))


def word_not_known(field: str, given: Any, allowed: Iterable[Any]) -> Fact:
    return fact("word_not_known", field=field, given=str(given), allowed=tuple(map(str, allowed)))


def refuse_moment(
    field: str, moment: datetime, now: datetime, refusal: type[Refusal] = RecordRefusal
) -> None:
    """A moment needs an offset, a plausible year, and lies in the past."""
    refuse_naive(field, moment, refusal)
    if moment.year < EARLIEST_YEAR:
        raise refusal(fact("moment_implausible", field=field, earliest_year=EARLIEST_YEAR), field=field)
    if moment > now + CLOCKS_APART:
        ahead = CLOCKS_APART // timedelta(minutes=1)
        raise refusal(fact("moment_in_future", field=field, tolerance_minutes=ahead), field=field)


def refuse_naive(field: str, moment: datetime, refusal: type[Refusal] = RecordRefusal) -> None:
    if timezone.is_naive(moment):
        raise refusal(fact("moment_without_offset", field=field), field=field)


def refuse_quantity(
    field: str, value: int | None, *, least: int = 1, refusal: type[Refusal] = RecordRefusal
) -> int:
    """The quantity, if it is a whole number that a column holds."""
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= GREATEST_QUANTITY:
        limits = {"least": least, "greatest": GREATEST_QUANTITY}
        raise refusal(fact("quantity_out_of_range", field=field, **limits, given=value), field=field)
    return value


def day(moment: datetime) -> str:
    """The day of a moment as a value of a fact."""
    return moment.date().isoformat()

"""Fields and constraints that many models share: lengths, words of the vocabulary, limits."""

from collections.abc import Iterable, Sequence
from enum import StrEnum
from typing import Any, TypeVar
from zoneinfo import available_timezones

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import F, Q
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from inventory.models.messages import invalid

M = TypeVar("M", bound=models.Model)
Message = Any
"""Text, or text that is translated where it is shown."""
MINUTES_A_WEEK = 7 * 24 * 60
GREATEST_QUANTITY = 1_000_000_000
"""A larger quantity is a typing error, and would overflow a column."""


def choices_of(words: type[StrEnum]) -> list[tuple[str, Any]]:
    """The texts to translate are those of the vocabulary in `api.wording`."""
    return [(word.value, _(word.value.replace("_", " "))) for word in words]


def length_mm(**kwargs: Any) -> "models.DecimalField[Any, Any]":
    """A length in millimetres to 1e-6 mm, so that every 1/64 inch is exact."""
    return models.DecimalField(max_digits=11, decimal_places=6, null=True, blank=True, **kwargs)


def word(words: type[StrEnum], *, optional: bool = True, **kwargs: Any) -> "models.CharField[Any, Any]":
    """One word of a vocabulary; empty if not known."""
    return models.CharField(max_length=20, choices=choices_of(words), blank=optional, **kwargs)


def currency(**kwargs: Any) -> "models.CharField[Any, Any]":
    return models.CharField(
        max_length=3,
        default="EUR",
        help_text=_("ISO 4217 code."),
        validators=[RegexValidator(r"^[A-Z]{3}\Z", _("Give the currency as three capitals, such as EUR."))],
        **kwargs,
    )


MOST_QUOTED = 80
"""Characters of a wrong value that its refusal repeats."""


def known_timezone(name: str) -> None:
    if name not in available_timezones():
        raise invalid("time_zone_not_known", name=name[:MOST_QUOTED])


def timezone_name() -> "models.CharField[Any, Any]":
    return models.CharField(max_length=40, default="UTC", validators=[known_timezone])


def optional_link(to: type[M], name: str, **kwargs: Any) -> "models.ForeignKey[M | None, M | None]":
    """A record that may not be known and cannot be deleted while it is named here; `name` is its way back."""
    return models.ForeignKey(to, null=True, blank=True, on_delete=models.PROTECT, related_name=name, **kwargs)


def money(**kwargs: Any) -> "models.DecimalField[Any, Any]":
    return models.DecimalField(max_digits=14, decimal_places=2, null=True, blank=True, **kwargs)


def check(name: str, condition: Q, message: Message) -> models.CheckConstraint:
    return models.CheckConstraint(condition=condition, name=name, violation_error_message=message)


def unique(
    name: str, fields: Sequence[str], message: Message, condition: Q | None = None
) -> models.UniqueConstraint:
    return models.UniqueConstraint(
        fields=fields, name=name, violation_error_message=message, condition=condition
    )


def positive(prefix: str, names: Iterable[str]) -> list[models.CheckConstraint]:
    """A named constraint per column: null or greater than zero."""
    return [
        check(
            f"{prefix}_{name}_positive",
            _empty_or(name, gt=0),
            format_lazy(_("{name} must be greater than 0, or empty if it is not known."), name=name),
        )
        for name in names
    ]


def within(prefix: str, name: str, low: int, high: int) -> models.CheckConstraint:
    message = format_lazy(_("{name} must be from {low} to {high}."), name=name, low=low, high=high)
    return check(f"{prefix}_{name}_within_bounds", _empty_or(name, gte=low, lte=high), message)


def not_negative(prefix: str, name: str) -> models.CheckConstraint:
    message = format_lazy(_("{name} must be 0 or more."), name=name)
    return check(f"{prefix}_{name}_not_negative", _empty_or(name, gte=0), message)


def at_most(prefix: str, name: str, high: int) -> models.CheckConstraint:
    message = format_lazy(_("{name} must be at most {high}."), name=name, high=high)
    return check(f"{prefix}_{name}_at_most", _empty_or(name, lte=high), message)


def in_order(prefix: str, first: str, last: str) -> models.CheckConstraint:
    empty = Q(**{f"{first}__isnull": True}) | Q(**{f"{last}__isnull": True})
    condition = empty | Q(**{f"{first}__lte": F(last)})
    message = format_lazy(_("{first} must not be after {last}."), first=first, last=last)
    return check(f"{prefix}_{first}_not_after_{last}", condition, message)


def all_or_none(prefix: str, names: str) -> models.CheckConstraint:
    """Columns that have a value together."""
    columns = names.split()
    known, empty = (Q(**{f"{name}__isnull": is_empty for name in columns}) for is_empty in (False, True))
    message = format_lazy(_("{names} have a value together, or none of them."), names=", ".join(columns))
    return check(f"{prefix}_{columns[0]}_with_{columns[-1]}", known | empty, message)


def one_of(
    prefix: str, name: str, words: type[StrEnum] | type[models.TextChoices], *, optional: bool = True
) -> models.CheckConstraint:
    allowed = [str(word.value) for word in words] + ([""] if optional else [])
    message = must_be_one_of(name, [word for word in allowed if word])
    return check(f"{prefix}_{name}_known_word", Q(**{f"{name}__in": allowed}), message)


def must_be_one_of(name: str, words: Iterable[str]) -> Message:
    return format_lazy(_("{name} must be one of {words}."), name=name, words=", ".join(words))


def orders(prefix: str, names: str, *, known_only: str = "") -> list[models.Index]:
    """An index for each order that a long list offers, in both directions; with the id, so that a page begins anywhere.

    The indexes of `known_only` leave out the rows without a value. Otherwise a question for some of these, such as what is
    still fitted of an item, would be answered from them by reading every such row.
    """
    conditions = dict.fromkeys(names.split()) | {
        name: Q((f"{name}__isnull", False)) for name in known_only.split()
    }
    return [
        models.Index(fields=[name, "id"], name=f"{prefix}_by_{name}"[:30], condition=condition)
        for name, condition in conditions.items()
    ]


def filters(prefix: str, names: str, *, words: str = "", known_only: str = "") -> list[models.Index]:
    """An index for each filter that a long list offers, by which the rows with a rare value are found.

    The indexes of `words` and `known_only` leave out the rows without a word or a value.
    """
    conditions = dict.fromkeys(names.split()) | {name: Q((f"{name}__gt", "")) for name in words.split()}
    conditions |= {name: Q((f"{name}__isnull", False)) for name in known_only.split()}
    return [
        models.Index(fields=[name], name=f"{prefix}_of_{name}"[:30], condition=condition)
        for name, condition in conditions.items()
    ]


def _empty_or(name: str, **limits: Any) -> Q:
    limited = {f"{name}__{lookup}": limit for lookup, limit in limits.items()}
    return Q(**{f"{name}__isnull": True}) | Q(**limited)


class Stamped(models.Model):
    """When a row was created and last changed."""

    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)

    class Meta:
        abstract = True

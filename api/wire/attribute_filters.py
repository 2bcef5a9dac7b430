"""Filters over the attributes of a specification, for whatever record has one behind it."""

from collections.abc import Iterable
from datetime import date
from enum import StrEnum
from typing import Any, ClassVar

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import TextChoices

from api.edge.filtering import NumberFilter, Range, StrictFilterSet, TruthFilter, WordsFilter, WordsText
from inventory.interchange.vocabulary import BoreType, HubStyle, KeyStandard, Material, RoleKind
from inventory.models import PartKind
from inventory.models.specification import LENGTHS
from inventory.standards.chains import UnknownChain, find_chain


def words_of(words: Iterable[StrEnum | TextChoices]) -> list[str]:
    return [str(word.value) for word in words]


LONGEST_MM = 30_000
NUMBERS = {
    **{name: Range(0, LONGEST_MM) for name in LENGTHS},
    "teeth": Range(0, 1000, whole=True),
    "strands": Range(0, 100, whole=True),
    "set_screws": Range(0, 100, whole=True),
    "mass_kg": Range(0, 100_000),
}
WORDS: dict[str, list[str]] = {
    "kind": words_of(PartKind),
    "role_kind": words_of(RoleKind),
    "hub_style": words_of(HubStyle),
    "bore_type": words_of(BoreType),
    "key_standard": words_of(KeyStandard),
    "material": words_of(Material),
}
TEXTS = ("bush_size", "material_grade")
TRUTHS = ("hardened_teeth", "food_contact", "non_sparking", "single_cut")


class ChainsText(WordsText):
    """Comma list of designations in any of their names."""

    def to_python(self, value: Any) -> list[str]:
        try:
            return [find_chain(word).designation for word in super().to_python(value)]
        except UnknownChain as error:
            raise ValidationError(str(error)) from error


class ChainFilter(WordsFilter):
    field_class = ChainsText


class DayText(forms.Field):
    def to_python(self, value: Any) -> date | None:
        if value in (None, ""):
            return None
        try:
            if len(value) == 10:
                return date.fromisoformat(value)
        except ValueError:
            pass
        raise ValidationError("A date is expected, such as 2026-03-01.")


class DayFilter(django_filters.Filter):  # type: ignore[misc]
    field_class = DayText


class DayFilterSet(StrictFilterSet):
    """Each name in `days` makes two filters, `__gte` and `__lte`."""

    days: ClassVar[tuple[str, ...]] = ()

    @classmethod
    def get_filters(cls) -> Any:
        filters = super().get_filters()
        for name in cls.days:
            for lookup in ("gte", "lte"):
                filters[f"{name}__{lookup}"] = DayFilter(name, lookup_expr=lookup)
        return filters


class AttributeFilterSet(StrictFilterSet):
    """Every attribute of the specification found under `attributes_of` is a filter."""

    attributes_of: ClassVar[str] = ""

    @classmethod
    def get_filters(cls) -> Any:
        own = super().get_filters()
        path = cls.attributes_of
        made: dict[str, Any] = {"chain": ChainFilter(f"{path}chain_designation")}
        for name, words in WORDS.items():
            made[name] = WordsFilter(f"{path}{name}", choices=words)
        for name, span in NUMBERS.items():
            for suffix, lookup in (("", "exact"), ("__gte", "gte"), ("__lte", "lte")):
                made[name + suffix] = NumberFilter(f"{path}{name}", lookup_expr=lookup, span=span)
        made |= {name: WordsFilter(f"{path}{name}") for name in TEXTS}
        made |= {name: TruthFilter(f"{path}{name}") for name in TRUTHS}
        return made | own

"""Filters over the attributes of a specification, for whatever record has one behind it."""

from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.db import models

from api.edge.filtering import NumberFilter, Range, StrictFilterSet, TruthFilter, WordsFilter, WordsText
from api.wire.records.specifications import ATTRIBUTES
from api.wording.sentences import sentence
from inventory.models import Specification
from inventory.models.engagement import ENGAGEMENT_LENGTHS
from inventory.standards.chains import UnknownChain, find_chain

LONGEST_MM = 30_000
SPANS = {
    "teeth": Range(0, 1000, whole=True),
    "mass_kg": Range(0, 100_000),
}
LENGTH = Range(0, LONGEST_MM)
COUNT = Range(0, 100, whole=True)
FILTERED = ("kind", *ENGAGEMENT_LENGTHS, "teeth", "strands", *ATTRIBUTES.split())


class ChainsText(WordsText):
    """Comma list of designations in any of their names."""

    def to_python(self, value: Any) -> list[str]:
        try:
            return [find_chain(word).designation for word in super().to_python(value)]
        except UnknownChain as error:
            raise ValidationError(sentence(error.fact), code=error.fact.code) from error


class ChainFilter(WordsFilter):
    field_class = ChainsText


def attribute_filters(name: str, path: str) -> dict[str, Any]:
    """Three filters of a number, else one."""
    field: Any = Specification._meta.get_field(name)
    if isinstance(field, models.BooleanField):
        return {name: TruthFilter(path)}
    if isinstance(field, models.CharField):
        return {name: WordsFilter(path, choices=[value for value, _ in field.flatchoices])}
    span = SPANS.get(name) or (LENGTH if name.endswith("_mm") else COUNT)
    return {
        f"{name}{suffix}": NumberFilter(path, lookup_expr=lookup, span=span)
        for suffix, lookup in (("", "exact"), ("__gte", "gte"), ("__lte", "lte"))
    }


class AttributeFilterSet(StrictFilterSet):
    """Every attribute of the specification found under `attributes_of` is a filter."""

    attributes_of: ClassVar[str] = ""

    @classmethod
    def get_filters(cls) -> Any:
        own = super().get_filters()
        made: dict[str, Any] = {"chain": ChainFilter(f"{cls.attributes_of}chain_designation")}
        for name in FILTERED:
            made |= attribute_filters(name, f"{cls.attributes_of}{name}")
        return made | own

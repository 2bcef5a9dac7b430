"""What a reader of questions understood, as conditions on specifications and items that an index answers."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import Model, Q
from django.db.models.expressions import RawSQL

from inventory.descriptions.chain_of_line import PITCH_TOLERANCE_MM
from inventory.descriptions.query import QueryFilter
from inventory.models import Specification
from inventory.models.text_index import among, normal
from inventory.standards.chains import chains, find_chain

BORE_TOLERANCE_MM = 0.02
"""Equal bores: an inch fraction is recorded with fewer digits than it has."""
MOST_KEYS = 2_000
"""Specifications that are looked up before their items."""


def of_items(filters: Sequence[QueryFilter]) -> Q:
    """Items whose specification has all of it; what is not recorded is not there. Where they are few, they are looked up here."""
    found = Specification.objects.filter(_of_part(filters, "")).order_by().values_list("pk", flat=True)
    keys = list(found[: MOST_KEYS + 1])
    return among("specification", keys) if len(keys) <= MOST_KEYS else _of_part(filters, "specification__")


def with_words(condition: Q, words: Iterable[str], paths: Iterable[str]) -> Q:
    """And every word in one of the columns."""
    paths = list(paths)
    for word in words:
        condition &= Q(*(Q(**{f"{path}__icontains": word}) for path in paths), _connector=Q.OR)
    return condition


def is_called(model: type[Model], names: Iterable[str], text: str) -> bool:
    """Whether a row has this name, however it is spaced."""
    # Of an optional name only the rows that have one are in the index.
    called = [Q(**{f"{name}__normal": normal(text), f"{name}__gt": RawSQL("''", [])}) for name in names]
    return any(model._default_manager.filter(one).exists() for one in called)


def _of_part(filters: Sequence[QueryFilter], place: str) -> Q:
    has_teeth = any(one.name == "teeth" for one in filters)
    # In the words of the index of sprockets: a parameter would hide from SQLite that it answers.
    sprocket = Q(**{f"{place}kind": RawSQL("'sprocket'", [])}) if has_teeth else Q()
    return sprocket & all_asked(filters, place, place, {})


def all_asked(filters: Sequence[QueryFilter], chain_at: str, part_at: str, names: Mapping[str, str]) -> Q:
    """All of it: the chain found at one path, the rest at another, some columns by other names."""
    found = Q()
    for one in filters:
        of_chain = one.name in ("chain", "pitch_mm", "strands")
        found &= _one(one, chain_at if of_chain else part_at, names.get(one.name, one.name))
    return found


def _one(asked: QueryFilter, place: str, column: str) -> Q:
    values: list[Any] = list(asked.values)
    if asked.name == "chain":
        return Q(
            **{f"{place}chain_designation__in": sorted({find_chain(str(one)).designation for one in values})}
        )
    if asked.name == "pitch_mm":
        near = _near(place, "pitch_mm", float(values[0]), PITCH_TOLERANCE_MM)
        # By the names of the chains, and none: an index leads from each to its teeth.
        return near & Q(**{f"{place}chain_designation__in": ["", *_designations_of_pitch(float(values[0]))]})
    if asked.name == "bore_mm":
        return _near(place, column, float(values[0]), BORE_TOLERANCE_MM)
    if asked.name == "bush_size":
        return Q(**{f"{place}{column}__gt": RawSQL("''", [])}) & Q(**{f"{place}{column}__in": values})
    return Q(**{f"{place}{column}__in": values}) if len(values) > 1 else Q(**{f"{place}{column}": values[0]})


def _near(place: str, column: str, value_mm: float, within_mm: float) -> Q:
    return Q(**{f"{place}{column}__gte": value_mm - within_mm, f"{place}{column}__lte": value_mm + within_mm})


def _designations_of_pitch(pitch_mm: float) -> list[str]:
    return sorted({one.designation for one in chains() if abs(one.pitch_mm - pitch_mm) <= PITCH_TOLERANCE_MM})

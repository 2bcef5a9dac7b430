"""What a reader of questions understood, as conditions on items, positions and drives that an index answers."""

from collections.abc import Collection, Sequence
from typing import Any, ClassVar

from django.db.models import Q
from django.db.models.expressions import RawSQL

from api.edge.filtering import StrictFilterSet
from api.edge.narrowing import Chosen, keys_of
from inventory.descriptions.chain_of_line import PITCH_TOLERANCE_MM
from inventory.descriptions.query import QueryFilter, read_query
from inventory.models import Specification
from inventory.models.text_index import among, normal
from inventory.standards.chains import chains, find_chain

BORE_TOLERANCE_MM = 0.02
"""Equal bores: an inch fraction is recorded with fewer digits than it has."""
OF_POSITION = frozenset(
    {"chain", "pitch_mm", "strands", "teeth", "bush_size", "bore_mm", "hub_style", "kind"}
)
OF_DRIVE = frozenset({"chain", "pitch_mm", "strands"})


def of_items(filters: Sequence[QueryFilter]) -> Q:
    """Items whose specification has all of it; what is not recorded is not there. Where they are few, they are looked up here."""
    keys = keys_of(Specification.objects.filter(_of_part(filters, "")))
    return _of_part(filters, "specification__") if keys is None else among("specification", keys)


def _of_part(filters: Sequence[QueryFilter], place: str) -> Q:
    has_teeth = any(one.name == "teeth" for one in filters)
    # In the words of the index of sprockets: a parameter would hide from SQLite that it answers.
    sprocket = Q(**{f"{place}kind": RawSQL("'sprocket'", [])}) if has_teeth else Q()
    return sprocket & _all(filters, place, place, {})


def of_positions(filters: Sequence[QueryFilter]) -> Q | None:
    """Positions that ask for it; None where it is no sprocket."""
    if not _are_of(filters, OF_POSITION) or any(
        one.name == "kind" and one.values != ("sprocket",) for one in filters
    ):
        return None
    asked = [one for one in filters if one.name != "kind"]
    return _all(asked, "drive__", "", {"bore_mm": "shaft_diameter_mm"}) if asked else None


def of_drives(filters: Sequence[QueryFilter]) -> Q | None:
    """Drives that run this chain, where nothing but the chain is asked for."""
    return _all(filters, "", "", {}) if _are_of(filters, OF_DRIVE) else None


def _are_of(filters: Sequence[QueryFilter], known: Collection[str]) -> bool:
    return all(one.name in known for one in filters)


def _all(filters: Sequence[QueryFilter], chain_at: str, part_at: str, names: dict[str, str]) -> Q:
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


class AskedFilterSet(StrictFilterSet):
    """`q` finds what is called so, else what has the attributes that are understood and the other words, else the words."""

    named_by: ClassVar[tuple[str, ...]]
    search_text = "What it is called, attributes such as `12B 19T bore 35`, or words that must all occur."

    def asked_of(self, filters: Sequence[QueryFilter]) -> Q | None:
        raise NotImplementedError

    def search(self, chosen: Chosen, text: str) -> Chosen:
        reading = read_query(text)
        condition = self.asked_of(reading.filters) if reading.filters else None
        if condition is None or self._is_called(text):
            return super().search(chosen, text)
        for word in reading.words:
            occurs = [Q(**{f"{path}__icontains": word}) for path in self.search_fields]
            condition &= Q(*occurs, _connector=Q.OR)
        keys = keys_of(chosen.rows.model._base_manager.filter(condition))
        if keys is None:
            return chosen.among_many(condition)
        return chosen.with_keys(keys) if keys else super().search(chosen, text)

    def _is_called(self, text: str) -> bool:
        # Of an optional name only the rows that have one are in the index.
        called = [
            Q(**{f"{name}__normal": normal(text), f"{name}__gt": RawSQL("''", [])}) for name in self.named_by
        ]
        rows = self.queryset.model._base_manager
        return any(rows.filter(one).exists() for one in called)

"""Database constraints checked in Python, so that every error of a row can be reported."""

import operator
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from math import pi, sin
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from api.edge.lengths import INCH, OUTSIDE_TO_PITCH_DIAMETER, SHORTEST_CENTRES_IN_PITCHES
from inventory.facts import Fact, fact
from inventory.models.engagement import ChainEngagement
from inventory.models.messages import fact_of_invalid

COMPARE: dict[str, Callable[[Any, Any], Any]] = {
    "exact": operator.eq,
    "gt": operator.gt,
    "gte": operator.ge,
    "lt": operator.lt,
    "lte": operator.le,
    "in": lambda value, wanted: value in wanted,
}
Holds = Callable[[Any], bool | None]
"""Whether something is true of a record; None where a value is not known, as in SQL."""


@dataclass(frozen=True)
class RecordRule:
    """A constraint of the database as a function."""

    holds: Holds
    field: str
    code: str


def adopt_standard(record: models.Model) -> list[tuple[str, Fact]]:
    """Fill in what the standard says of the chain; field and reason where the record contradicts it."""
    if not isinstance(record, ChainEngagement):
        return []
    try:
        record.adopt_designation()
    except ValidationError as error:
        return [(name, fact_of_invalid(one)) for name, found in error.error_dict.items() for one in found]
    return []


def broken_rules(record: models.Model) -> list[tuple[str, Fact]]:
    """Field and reason of each constraint that the record breaks, and of each doubtful size."""
    broken = [(rule.field, fact(rule.code)) for rule in rules_of(type(record)) if rule.holds(record) is False]
    return broken + questions(record)


@cache
def rules_of(model: type[models.Model]) -> list[RecordRule]:
    return [
        RecordRule(
            condition_of(constraint.condition, model),
            next(fields_in(constraint.condition), ""),
            constraint.name,
        )
        for constraint in model._meta.constraints
        if isinstance(constraint, models.CheckConstraint)
    ]


def condition_of(condition: Any, model: type[models.Model]) -> Holds:
    """A condition of plain comparisons as a function of the record."""
    parts = [
        condition_of(child, model) if isinstance(child, Q) else comparison_of(child[0], child[1], model)
        for child in condition.children
    ]
    decided = condition.connector == Q.OR

    def joined(record: Any) -> bool | None:
        unknown = False
        for part in parts:
            met = part(record)
            if met is decided:
                return decided
            unknown = unknown or met is None
        return None if unknown else not decided

    def opposite(record: Any) -> bool | None:
        met = joined(record)
        return None if met is None else not met

    return opposite if condition.negated else joined


def comparison_of(path: str, wanted: Any, model: type[models.Model]) -> Holds:
    name, _, lookup = path.partition("__")
    own = getter(name, model)
    if lookup == "isnull":
        return lambda record: (own(record) is None) is wanted
    compare = COMPARE[lookup or "exact"]
    other = getter(wanted.name, model) if isinstance(wanted, F) else None  # type: ignore[attr-defined]

    def compared(record: Any) -> bool | None:
        value, limit = own(record), other(record) if other else wanted
        return None if value is None or limit is None else bool(compare(value, limit))

    return compared


def getter(name: str, model: type[models.Model]) -> Callable[[Any], Any]:
    field = model._meta.get_field(name)
    return operator.attrgetter(getattr(field, "attname", name))


def fields_in(condition: Any) -> Iterator[str]:
    for child in condition.children:
        if isinstance(child, Q):
            yield from fields_in(child)
        else:
            yield child[0].partition("__")[0]


def questions(record: models.Model) -> list[tuple[str, Fact]]:
    """Sizes that are fine alone and doubtful together: an inch value beside a pitch in millimetres."""
    pitch_mm = getattr(record, "pitch_mm", None)
    if not pitch_mm:
        return []
    doubts = []
    centre = getattr(record, "centre_distance_mm", None)
    if centre and centre < SHORTEST_CENTRES_IN_PITCHES * pitch_mm:
        least = {"pitches": int(SHORTEST_CENTRES_IN_PITCHES), "pitch_mm": float(pitch_mm)}
        doubts.append(("centre_distance_mm", doubt("centres_perhaps_in_inches", centre, **least)))
    outside, teeth = getattr(record, "outside_diameter_mm", None), getattr(record, "teeth", None)
    if outside and teeth and teeth > 2:
        pitch_diameter = pitch_mm / Decimal(sin(pi / teeth))
        if outside < OUTSIDE_TO_PITCH_DIAMETER * pitch_diameter:
            least = {"pitch_diameter_mm": float(pitch_diameter)}
            doubts.append(("outside_diameter_mm", doubt("diameter_perhaps_in_inches", outside, **least)))
    return doubts


def doubt(code: str, length_mm: Decimal, **least: float) -> Fact:
    return fact(code, length_mm=float(length_mm), inches_in_mm=float(length_mm * INCH), **least)

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
from inventory.models.engagement import ChainEngagement

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
    sentence: str


def adopt_standard(record: models.Model) -> list[tuple[str, str]]:
    """Fill in what the standard says of the chain; field and sentence where the record contradicts it."""
    if not isinstance(record, ChainEngagement):
        return []
    try:
        record.adopt_designation()
    except ValidationError as error:
        return [(name, " ".join(sentences)) for name, sentences in error.message_dict.items()]
    return []


def broken_rules(record: models.Model) -> list[tuple[str, str]]:
    """Field and sentence of each constraint that the record breaks, and of each doubtful size."""
    broken = [(rule.field, rule.sentence) for rule in rules_of(type(record)) if rule.holds(record) is False]
    return broken + questions(record)


@cache
def rules_of(model: type[models.Model]) -> list[RecordRule]:
    return [
        RecordRule(
            condition_of(constraint.condition, model),
            next(fields_in(constraint.condition), ""),
            str(constraint.violation_error_message),
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


def questions(record: models.Model) -> list[tuple[str, str]]:
    """Sizes that are fine alone and doubtful together: an inch value beside a pitch in millimetres."""
    pitch_mm = getattr(record, "pitch_mm", None)
    if not pitch_mm:
        return []
    doubts = []
    centre = getattr(record, "centre_distance_mm", None)
    if centre and centre < SHORTEST_CENTRES_IN_PITCHES * pitch_mm:
        doubts.append(
            (
                "centre_distance_mm",
                doubt(
                    centre, f"is under {SHORTEST_CENTRES_IN_PITCHES} pitches of {pitch_mm.normalize():f} mm"
                ),
            )
        )
    outside, teeth = getattr(record, "outside_diameter_mm", None), getattr(record, "teeth", None)
    if outside and teeth and teeth > 2:
        pitch_diameter = pitch_mm / Decimal(sin(pi / teeth))
        if outside < OUTSIDE_TO_PITCH_DIAMETER * pitch_diameter:
            doubts.append(
                (
                    "outside_diameter_mm",
                    doubt(outside, f"is far below the pitch diameter of {pitch_diameter:.1f} mm"),
                )
            )
    return doubts


def doubt(length_mm: Decimal, why: str) -> str:
    number = length_mm.normalize()
    return f"{number:f} mm {why}: inches? {number:f} in would be {(number * INCH).normalize():f} mm."

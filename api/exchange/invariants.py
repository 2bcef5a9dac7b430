"""The records' own rules, looked at before the database does, so that every row can be told what is wrong with it."""

from collections.abc import Callable, Iterator
from decimal import Decimal
from math import pi, sin
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from api.exchange.lengths import INCH, OUTSIDE_TO_PITCH_DIAMETER, SHORTEST_CENTRES_IN_PITCHES
from inventory.models.engagement import ChainEngagement

COMPARE: dict[str, Callable[[Any, Any], Any]] = {
    "exact": lambda a, b: a == b,
    "gt": lambda a, b: a > b,
    "gte": lambda a, b: a >= b,
    "lt": lambda a, b: a < b,
    "lte": lambda a, b: a <= b,
    "in": lambda a, b: a in b,
}


def broken_rules(record: models.Model) -> list[tuple[str, str]]:
    """Field and sentence of each rule that the record breaks; adopts the standard's chain on the way."""
    found: list[tuple[str, str]] = []
    if isinstance(record, ChainEngagement):
        try:
            record.adopt_designation()
        except ValidationError as error:
            found += [(name, " ".join(sentences)) for name, sentences in error.message_dict.items()]
    for constraint in record._meta.constraints:
        if isinstance(constraint, models.CheckConstraint) and holds(constraint.condition, record) is False:
            found.append((next(fields_in(constraint.condition), ""), str(constraint.violation_error_message)))
    return found + questions(record)


def holds(condition: Any, record: models.Model) -> bool | None:
    """Whether a condition of plain comparisons holds; None where a value is not known, as in SQL."""
    parts = [
        holds(child, record) if isinstance(child, Q) else compare(child[0], child[1], record)
        for child in condition.children
    ]
    met: bool | None
    if condition.connector == Q.OR:
        met = True if True in parts else (None if None in parts else False)
    else:
        met = False if False in parts else (None if None in parts else True)
    return not met if condition.negated and met is not None else met


def compare(path: str, wanted: Any, record: models.Model) -> bool | None:
    name, _, lookup = path.partition("__")
    value = value_of(record, name)
    if lookup == "isnull":
        return (value is None) is wanted
    if isinstance(wanted, F):
        wanted = value_of(record, wanted.name)  # type: ignore[attr-defined]
    if value is None or wanted is None:
        return None
    return bool(COMPARE[lookup or "exact"](value, wanted))


def value_of(record: models.Model, name: str) -> Any:
    field = record._meta.get_field(name)
    return getattr(record, getattr(field, "attname", name))


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
    asked = []
    centre = getattr(record, "centre_distance_mm", None)
    if centre and centre < SHORTEST_CENTRES_IN_PITCHES * pitch_mm:
        asked.append(
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
            asked.append(
                (
                    "outside_diameter_mm",
                    doubt(outside, f"is far below the pitch diameter of {pitch_diameter:.1f} mm"),
                )
            )
    return asked


def doubt(length_mm: Decimal, why: str) -> str:
    number = length_mm.normalize()
    return f"{number:f} mm {why}: inches? {number:f} in would be {(number * INCH).normalize():f} mm."

"""Database constraints checked in Python, so that every error of a row can be reported."""

import operator
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache, partial
from math import pi, sin
from types import SimpleNamespace
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from api.edge.lengths import INCH, OUTSIDE_TO_PITCH_DIAMETER, SHORTEST_CENTRES_IN_PITCHES
from inventory.facts import Fact, fact
from inventory.models.engagement import ENGAGEMENT_LENGTHS, ChainEngagement
from inventory.models.messages import fact_of_invalid
from inventory.plumbing.many_rows import Memo

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
    reads: tuple[str, ...] = ()
    """The columns that decide it."""


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
            columns_read(constraint.condition, model),
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


def columns_read(condition: Any, model: type[models.Model]) -> tuple[str, ...]:
    names = dict.fromkeys([*fields_in(condition), *fields_compared(condition)])
    return tuple(getattr(model._meta.get_field(name), "attname", name) for name in names)


def fields_compared(condition: Any) -> Iterator[str]:
    for child in condition.children:
        if isinstance(child, Q):
            yield from fields_compared(child)
        elif isinstance(child[1], F):
            yield child[1].name  # type: ignore[attr-defined]


Broken = list[tuple[str, Fact]]
DOUBTED = ("pitch_mm", "centre_distance_mm", "outside_diameter_mm", "teeth")
"""The columns that `questions` reads."""


class RuleColumns:
    """The same rules over many records at once: each is asked once for each combination of the values that it reads."""

    def __init__(self, model: type[models.Model]) -> None:
        self.model = model
        self.checks = [
            (names, Memo(partial(self.broken_by, names, rules))) for names, rules in grouped(model)
        ]
        self.engagement = Memo(self.adopted)

    def broken_by(self, names: tuple[str, ...], rules: list[RecordRule], values: Any) -> Broken:
        record: Any = SimpleNamespace(
            **dict(zip(names, values if len(names) > 1 else (values,), strict=True))
        )
        broken = [(rule.field, fact(rule.code)) for rule in rules if rule.holds(record) is False]
        return broken if rules else questions(record)

    def broken(self, columns: Mapping[str, Sequence[Any]]) -> dict[int, Broken]:
        """What `broken_rules` says of each row, by the place of the row; sound rows are left out."""
        found: dict[int, Broken] = {}
        for names, known in self.checks:
            values = columns[names[0]] if len(names) == 1 else zip(*(columns[n] for n in names), strict=True)
            answers = list(map(known.__getitem__, values))
            if any(answers):
                for row, broken in enumerate(answers):
                    if broken:
                        found.setdefault(row, []).extend(broken)
        return found

    def adopt(self, columns: dict[str, list[Any]]) -> dict[int, Broken]:
        """What `adopt_standard` does to each row; the columns are replaced."""
        if not issubclass(self.model, ChainEngagement):
            return {}
        states = list(zip(*(columns[name] for name in ENGAGEMENT), strict=True))
        adopted = list(map(self.engagement.__getitem__, states))
        for place, name in enumerate(ENGAGEMENT):
            columns[name] = [state[place] for state, _ in adopted]
        return {row: list(broken) for row, (_, broken) in enumerate(adopted) if broken}

    def adopted(self, state: tuple[Any, ...]) -> tuple[tuple[Any, ...], Broken]:
        record = self.model(**dict(zip(ENGAGEMENT, state, strict=True)))
        broken = adopt_standard(record)
        return tuple(getattr(record, name) for name in ENGAGEMENT), broken


ENGAGEMENT = ("chain_designation", *ENGAGEMENT_LENGTHS)


def grouped(model: type[models.Model]) -> list[tuple[tuple[str, ...], list[RecordRule]]]:
    """The rules by the columns that they read; those of no rule are what `questions` reads."""
    groups: dict[tuple[str, ...], list[RecordRule]] = {}
    for rule in rules_of(model):
        groups.setdefault(rule.reads, []).append(rule)
    names = tuple(name for name in DOUBTED if name in {field.name for field in model._meta.concrete_fields})
    return [*groups.items(), *([(names, [])] if len(names) > 1 and names[0] == DOUBTED[0] else [])]


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

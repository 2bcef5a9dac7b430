"""The parts of a list that follow each other in its order, each read by an index, and the walk through them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.core.exceptions import FieldDoesNotExist
from django.db import connections
from django.db.models import BooleanField, ExpressionWrapper, F, Model, Q, QuerySet, Subquery
from django.db.models.expressions import Col, OrderBy
from django.db.models.functions import Coalesce
from django.db.models.lookups import GreaterThan, LessThan

from api.edge.narrowing import Chosen, index_of, target_of
from inventory.models.text_index import among

WALKED = (200, 2_000)
"""Rows that a page is looked for in, first and at most, where a filter has no index or leaves many. Not full by then, the page ends there."""
WALKED_FOR_ONE = 10
"""At most, for each row of a larger page."""


class KeyBeside(F):
    """The key of the record in which a path ends, from its own table: `F` would take it from the reference to it."""

    def resolve_expression(self, *args: Any, **kwargs: Any) -> Any:
        column: Any = super().resolve_expression(*args, **kwargs)
        return Col(column.alias, column.target.model._meta.pk)


@dataclass(frozen=True)
class OrderKey:
    """One column of the order. Rows without a value come last, whichever the direction."""

    path: str
    descending: bool
    nullable: bool
    beside: str = ""
    """It is the key of the record with this column, so that rows follow each other as in the index of that record."""

    @property
    def column(self) -> F:
        return KeyBeside(self.beside) if self.beside else F(self.path)

    def order(self, backward: bool, by_index: bool = True) -> OrderBy:
        last = {"nulls_first": True} if backward else {"nulls_last": True}
        options = last if self.nullable else {}
        falling = self.descending != backward
        # No index has the value in this form.
        column = self.column if by_index else Coalesce(self.column, self.column)
        return column.desc(**options) if falling else column.asc(**options)

    def is_known(self, known: bool) -> Q:
        return Q(**{f"{self.path}__isnull": not known})

    def same(self, value: Any) -> Q:
        return self.is_known(False) if value is None else Q(**{self.path: value})

    def after_value(self, value: Any, backward: bool) -> Q:
        """Rows with a value after this one."""
        falling = self.descending != backward
        if self.beside:
            return Q(LessThan(self.column, value) if falling else GreaterThan(self.column, value))
        return Q(**{f"{self.path}__{'lt' if falling else 'gt'}": value})


def is_nullable(queryset: QuerySet[Any], path: str) -> bool:
    """Whether rows can lack the value; an annotation that orders a list always has one."""
    options = queryset.model._meta
    nullable = False
    for part in path.split("__"):
        try:
            field = options.pk if part == "pk" else options.get_field(part)
        except FieldDoesNotExist:
            return False
        nullable = nullable or bool(getattr(field, "null", True))
        if field.is_relation and field.related_model:
            options = field.related_model._meta
    return nullable


def is_unique(model: type[Model], path: str) -> bool:
    """Whether the order ends with this column, as no two rows are equal in it."""
    return any(
        field.name == path and field.unique and not field.null for field in model._meta.concrete_fields
    )


def key_beside(model: type[Model], lead: OrderKey) -> OrderKey | None:
    """Of many rows that refer to records equal in this column, the next ones are found by the index of these records."""
    place, _, column = lead.path.rpartition("__")
    target = target_of(model, place) if place else None
    if target is None or is_unique(target, column):
        return None
    return OrderKey(f"{place}__pk", lead.descending, False, lead.path)


def order_keys(queryset: QuerySet[Any], ordering: Sequence[tuple[str, bool]]) -> list[OrderKey]:
    keys = []
    for path, descending in dict(ordering).items():
        keys.append(OrderKey(path, descending, is_nullable(queryset, path)))
        if is_unique(queryset.model, path):
            return keys
    if len(keys) == 1 and (beside := key_beside(queryset.model, keys[0])):
        keys.append(beside)
    if not any(key.path in ("pk", queryset.model._meta.pk.name) for key in keys):
        # Falling with the last column, so that its index serves both directions.
        keys.append(OrderKey("pk", bool(keys) and keys[-1].descending, False))
    return keys


@dataclass(frozen=True)
class ListPart:
    """Rows of a list that follow each other in the order of one index."""

    rows: QuerySet[Any]
    keys: Sequence[OrderKey]
    backward: bool
    by_groups: bool = False
    """Whether many rows may be equal in the leading key, and follow each other against the order of its index."""
    sorts: bool = False
    """Whether what is found may be sorted: keys are then, and not rows with all their members."""
    only_keys: bool = False
    asked: Q | None = None
    """With the keys: whether each row passes."""

    def read(self, most: int) -> list[Any]:
        lead = self.keys[0]
        walked = self.rows.order_by(lead.order(self.backward)).values_list(lead.path, flat=True)
        if self.by_groups:
            return self.read_groups(list(walked[:most]), most)
        if (
            "__" in lead.path
            and not any(key.beside for key in self.keys)
            and connections[self.rows.db].vendor == "sqlite"
        ):
            return self.read_narrowly(walked, most)
        if self.sorts:
            return self.read_keys(self.ordered, most)
        if self.rows.query.select_related and connections[self.rows.db].vendor == "sqlite":
            # Else it may begin with a table that the rows refer to, and sort whatever they are.
            return list(self.ordered.filter(pk__in=self.ordered.values("pk")[:most]))
        return list(self.ordered[:most])

    @property
    def ordered(self) -> QuerySet[Any]:
        # PostgreSQL would rather walk a long list until it has met a page of a few rows.
        by_index = not self.sorts or connections[self.rows.db].vendor == "sqlite"
        ordered: QuerySet[Any] = self.rows.order_by(
            *(key.order(self.backward, by_index) for key in self.keys)
        )
        if self.asked is not None:
            ordered = ordered.annotate(passes=ExpressionWrapper(self.asked, BooleanField()))
            return ordered.values_list("pk", "passes")
        return ordered.values_list("pk", flat=True) if self.only_keys else ordered

    def read_narrowly(self, walked: QuerySet[Any], most: int) -> list[Any]:
        """SQLite sorts whatever is ordered over several tables: it gets no more rows than share the values of the page."""
        lead = self.keys[0]
        falling = lead.descending != self.backward
        edge = Subquery(outermost(self.rows.model, lead.path, falling))
        last = Coalesce(Subquery(walked[most - 1 : most]), edge)
        near = self.ordered.filter(**{f"{lead.path}__{'gte' if falling else 'lte'}": last})
        # Where nothing but the id tells them apart, they may be many.
        return self.read_keys(near, most) if self.sorts or len(self.keys) < 3 else list(near[:most])

    def read_keys(self, ordered: QuerySet[Any], most: int) -> list[Any]:
        if self.only_keys:
            return list(ordered[:most])
        return rows_of(self.rows, list(ordered.values_list("pk", flat=True)[:most]))

    def read_groups(self, values: list[Any], most: int) -> list[Any]:
        """The leading values of the page come from the index. All rows of each are on it, but of the last only the first ones."""
        if not values or values[-1] is None:
            return list(self.ordered[:most])
        lead = self.keys[0]
        whole = [value for value in dict.fromkeys(values) if value != values[-1]]
        found = list(self.ordered.filter(**{f"{lead.path}__in": whole})[:most]) if whole else []
        found += self.ordered.filter(lead.same(values[-1]))[: values.count(values[-1])]
        # Rows that went in between must not make the page look like the last.
        return found if len(found) == len(values) else list(self.ordered[:most])


def rows_of(rows: QuerySet[Any], keys: Sequence[Any]) -> list[Any]:
    """The rows with these keys, in their order."""
    found = {row.pk: row for row in rows.filter(pk__in=keys).order_by()}
    return [found[key] for key in keys if key in found]


@dataclass(frozen=True)
class Walk:
    """What was found in a list on the way to the end of a page, or as far as a page is looked for."""

    keys: list[Any]
    read: int = 0
    last: Any = None
    """The last row that was read, whether it passes the filters or not."""
    is_stopped: bool = False
    """Whether it ended although more follow."""


def most_walked(limit: int) -> int:
    return max(WALKED[-1], WALKED_FOR_ONE * limit)


def walk(chosen: Chosen, part: ListPart, most: int, reach: int) -> Walk:
    """The rows of a part are read in its order, and those that pass the filters are picked out."""
    keys, found = list[Any](), list[Any]()
    steps = [reach] if chosen.is_led else sorted({min(max(WALKED[0], most), reach), reach})
    for step in steps:
        keys, passed = with_passed(chosen, part, most, step)
        found = [key for key in keys[:step] if key in passed][:most]
        if len(found) == most or len(keys) <= step:
            break
    is_stopped = len(found) < most and len(keys) > reach
    # It may have been deleted since its key was read.
    last = (row for key in reversed(keys[:reach]) for row in part.rows.filter(pk=key))
    return Walk(
        found,
        min(len(keys), reach),
        next(last, None) if is_stopped or not found else None,
        is_stopped,
    )


def with_passed(chosen: Chosen, part: ListPart, most: int, step: int) -> tuple[list[Any], set[Any]]:
    """The keys of so many rows and of one more, and those of them that pass: all, or as many as are wanted."""
    is_one = connections[chosen.rows.db].vendor != "sqlite" and not chosen.is_led
    if is_one and chosen.condition is not None:
        pairs = replace(part, asked=chosen.condition).read(step + 1)
        return [key for key, _ in pairs], {key for key, passes in pairs if passes}
    # What a reference leaves may have to be sorted, which is done for less without what the filters read;
    # SQLite would begin with a table that these read, and sort whatever refers to it.
    keys, passed = part.read(step + 1), set[Any]()
    for some in (keys[: WALKED[0]], keys[WALKED[0] : step]):
        if len(passed) < most:
            passing = chosen.rows.filter(among("pk", some)).order_by()
            passed.update(passing.values_list("pk", flat=True))
    return keys, passed


def outermost(model: type[Model], path: str, least: bool) -> QuerySet[Any]:
    """The least or the greatest value at the end of a path, in the record that is referred to."""
    target: Any = model
    *places, name = path.split("__")
    for place in places:
        target = target._meta.get_field(place).related_model
    known = target._base_manager.filter(**{f"{name}__isnull": False})
    return known.order_by(name if least else f"-{name}").values_list(name, flat=True)[:1]  # type: ignore[no-any-return]


def parts_of(
    rows: QuerySet[Any],
    keys: Sequence[OrderKey],
    values: Sequence[Any] | None,
    backward: bool,
    by_groups: bool = False,
    sorts: bool = False,
) -> list[ListPart]:
    """What is read one after the other: rows with a value of the leading key, then those without."""
    lead, rest = replace(keys[0], nullable=False), keys[1:]
    there = [lead, *rest]
    known, last = rows, list[ListPart]()
    others = [at for at, key in enumerate(keys) if at and not key.beside]
    without = [keys[at] for at in others]
    if keys[0].nullable:
        known, unknown = rows.filter(lead.is_known(True)), rows.filter(lead.is_known(False))
        model: Any = rows.model
        if "__" not in lead.path and index_of(model, lead.path) == Q():
            # The index of the column holds these rows too, in the order of the next one.
            led = [replace(lead, descending=rest[0].descending), *rest]
            last = [ListPart(unknown, led, backward, sorts=sorts)]
        else:
            last = parts_of(unknown, without, None, backward, sorts=sorts)
    if values is None:
        return [ListPart(known, there, backward, by_groups, sorts), *last]
    if values[0] is None:
        beside = parts_of(unknown, without, [values[at] for at in others], backward, sorts=sorts)
        return [*beside, ListPart(known, there, backward, by_groups, sorts)] if backward else beside
    # Asked apart, both begin at their row of an index, however many rows are equal in the leading key.
    same = (
        parts_of(known.filter(lead.same(values[0])), rest, values[1:], backward, sorts=sorts) if rest else []
    )
    further = ListPart(known.filter(lead.after_value(values[0], backward)), there, backward, by_groups, sorts)
    return [*same, further] if backward else [*same, further, *last]

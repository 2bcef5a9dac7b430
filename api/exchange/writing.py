"""Write new and changed records of a chunk by column; an unchanged row costs no write."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import compress
from typing import Any

from django.db import connection, models
from django.db.models import Q

from api.edge.scope import visible_to_caller
from api.exchange.bulk import create, update
from api.exchange.checking import Chunk
from api.exchange.reading import ABSENT, Absent
from api.exchange.reference_finding import Columns
from api.exchange.results import Report, RowOutcome
from api.wire.case_twins import folded, key_of_any_case, twins
from api.wire.invariants import Broken, RuleColumns
from drives.models import Plant
from inventory.facts import fact
from inventory.models import Storeroom
from inventory.models.access_scope import current_scope
from inventory.plumbing.many_rows import data_fields, default_of

PLACES = (Plant, Storeroom)
"""Callers are limited to those named to them: a new one lies outside."""
IMPORT_LOCK = 0x7370_6172_6573_0002
"""A key of PostgreSQL's advisory locks: of two imports one waits, so that they cannot lock the same records in a circle."""
State = tuple[Any, ...]


def one_import_at_a_time() -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [IMPORT_LOCK])


@dataclass(frozen=True)
class Standing:
    """Records as they stand: the key of each and its state, a value for each name."""

    key: Any
    state: State


class RecordTable:
    """The columns of a model: what stands, what a file makes of it, and the rules that it must keep."""

    def __init__(self, model: type[models.Model]) -> None:
        self.model = model
        self.fields = data_fields(model)
        self.names = [field.attname for field in self.fields]
        self.defaults = {field.attname: default_of(field) for field in self.fields}
        self.rules = RuleColumns(model)

    def standing(self, condition: Q, *, lock: bool = False) -> list[Standing]:
        rows = self.model._default_manager.filter(condition).order_by("pk")
        rows = rows.select_for_update() if lock else rows
        return [Standing(pk, tuple(state)) for pk, *state in rows.values_list("pk", *self.names)]

    def planned(
        self, given: Mapping[str, Sequence[Any]], before: Sequence[Standing | None], *, lock: bool
    ) -> "Planned":
        """With `lock`, what will be changed is locked and read again: nothing that somebody writes meanwhile is lost."""
        found = Planned(self, given, before)
        changed = [one.key for one, touched in zip(before, found.touched, strict=True) if one and touched]
        if not lock or not changed or not connection.features.has_select_for_update:
            return found
        now = {one.key: one for one in self.standing(Q(pk__in=changed), lock=True)}
        gone = set(changed) - now.keys()
        again = [None if one is None or one.key in gone else now.get(one.key, one) for one in before]
        return found if again == list(before) else Planned(self, given, again)

    def merged(self, given: Mapping[str, Sequence[Any]], before: Sequence[Standing | None]) -> Columns:
        """What the rows say; what they leave out stays as it stands, or is the default of a new record."""
        return {
            name: self.column(place, name, given.get(name), before) for place, name in enumerate(self.names)
        }

    def column(
        self, place: int, name: str, given: Sequence[Any] | None, before: Sequence[Standing | None]
    ) -> list[Any]:
        default = self.defaults[name]
        if given is None:
            return [default if one is None else one.state[place] for one in before]
        if Absent not in set(map(type, given)):
            return list(given)
        pairs = zip(given, before, strict=True)
        return [
            value if value is not ABSENT else default if one is None else one.state[place]
            for value, one in pairs
        ]

    def states(self, columns: Columns) -> list[State]:
        return list(zip(*(columns[name] for name in self.names), strict=True))


class Planned:
    """Rows of one model before and after a chunk of the file."""

    def __init__(
        self, table: RecordTable, given: Mapping[str, Sequence[Any]], before: Sequence[Standing | None]
    ) -> None:
        self.table, self.before = table, before
        self.columns = table.merged(given, before)
        self.broken = table.rules.adopt(self.columns)

    @cached_property
    def touched(self) -> list[bool]:
        """Which rows are new or say something else than stands."""
        states = self.table.states(self.columns)
        return [one is None or one.state != state for one, state in zip(self.before, states, strict=True)]

    def check(self) -> dict[int, Broken]:
        """Every rule that a touched row breaks, by its place."""
        touched = [row for row, is_touched in enumerate(self.touched) if is_touched]
        columns = {**self.columns, "id": [one and one.key for one in self.before]}
        if len(touched) < len(self.before):
            columns = {name: [column[row] for row in touched] for name, column in columns.items()}
        for place, broken in self.table.rules.broken(columns).items():
            self.broken.setdefault(touched[place], []).extend(broken)
        return self.broken

    def create(self, rows: Sequence[int]) -> Sequence[Any]:
        return create(self.table.model, self.picked(rows))

    def update(self, rows: Sequence[int]) -> None:
        standing = [one for row in rows if (one := self.before[row]) is not None]
        before = dict(
            zip(self.table.names, map(list, zip(*(one.state for one in standing), strict=True)), strict=False)
        )
        update(self.table.model, [one.key for one in standing], before, self.picked(rows))

    def picked(self, rows: Sequence[int]) -> Columns:
        if len(rows) == len(self.before):
            return self.columns
        return {name: [column[row] for row in rows] for name, column in self.columns.items()}


class Upsert:
    """Write plain records: each row is new, changed or unchanged. `stamped` is written on each new or changed one."""

    def __init__(
        self,
        model: type[models.Model],
        columns: Mapping[str, str],
        key: Sequence[str],
        report: Report,
        *,
        stamped: Mapping[str, Any] | None = None,
    ) -> None:
        self.records = RecordTable(model)
        self.report = report
        self.stamped = dict(stamped or {})
        self.column_of = {field: name for name, field in columns.items()}
        self.key = [model._meta.get_field(columns[name]).attname for name in key]  # type: ignore[union-attr]
        self.attname = {field.name: field.attname for field in self.records.fields}
        self.key_places = [self.records.names.index(name) for name in self.key]

    def take(self, chunk: Chunk, values: Columns, *, write: bool) -> None:
        given = {self.attname[name]: column for name, column in values.items()}
        before = self.recorded(given)
        self.refuse_beyond_reach(chunk, before)
        self.refuse_other_case(chunk, given, before)
        planned = self.records.planned(given, before, lock=write)
        self.reject(chunk, planned.check())
        sound = self.sound(chunk)
        self.note(chunk, sound, planned.touched, planned.before)
        if write:
            self.stamp(planned)
            self.write(planned, sound)

    def recorded(self, given: Columns) -> list[Standing | None]:
        """What stands of each row, by natural key."""
        keys = list(zip(*(given[name] for name in self.key), strict=True))
        condition = Q()
        for name, column in zip(self.key, zip(*keys, strict=True), strict=False):
            asked = set(column)
            known = Q(**{f"{name}__in": sorted(asked - {None})})
            condition &= known | Q(**{f"{name}__isnull": True}) if None in asked else known
        found = {self.key_of(one): one for one in self.records.standing(condition)} if keys else {}
        return [found.get(key) for key in keys]

    def key_of(self, one: Standing) -> State:
        return tuple(one.state[place] for place in self.key_places)

    def refuse_beyond_reach(self, chunk: Chunk, before: Sequence[Standing | None]) -> None:
        """A row may not change a record that the caller cannot see, nor add a place that it could not see."""
        if current_scope().is_whole:
            return
        model = self.records.model
        standing = [one.key for one in before if one is not None]
        seen = set(
            visible_to_caller(model._default_manager.filter(pk__in=standing)).values_list("pk", flat=True)
        )
        for row, one in enumerate(before):
            if model in PLACES if one is None else one.key not in seen:
                self.report.reject(chunk.lines[row], chunk.name(row), "", fact("record_outside_reach"))

    def refuse_other_case(self, chunk: Chunk, given: Columns, before: Sequence[Standing | None]) -> None:
        """A new record whose key differs from that of another one by capitals alone."""
        names = key_of_any_case(self.records.model)
        if not names or set(names) != set(self.key):
            return
        keys = list(zip(*(given[name] for name in names), strict=True))
        new = [row for row, one in enumerate(before) if one is None]
        standing = twins(self.records.model, [keys[row] for row in new])
        column = self.column_of[next(n for n, attname in self.attname.items() if attname == names[-1])]
        for row in new:
            key = (*keys[row][:-1], folded(keys[row][-1]))
            other = standing.setdefault(key, keys[row][-1])
            if other != keys[row][-1]:
                problem = fact("key_in_other_case", key=keys[row][-1], other=other)
                self.report.reject(chunk.lines[row], chunk.name(row), column, problem)

    def reject(self, chunk: Chunk, broken: Mapping[int, Broken]) -> None:
        for row, errors in sorted(broken.items()):
            for name, refusal in errors:
                column = self.column_of.get(name, name)
                self.report.reject(chunk.lines[row], chunk.name(row), column, refusal)

    def sound(self, chunk: Chunk) -> list[int]:
        return [row for row, line in enumerate(chunk.lines) if not self.report.is_rejected(line)]

    def note(
        self, chunk: Chunk, sound: Sequence[int], touched: Sequence[bool], before: Sequence[Standing | None]
    ) -> None:
        outcomes = [
            RowOutcome.CREATED
            if before[row] is None
            else RowOutcome.UPDATED
            if touched[row]
            else RowOutcome.UNCHANGED
            for row in sound
        ]
        lines = [chunk.lines[row] for row in sound]
        self.report.note_all(lines, lambda place: chunk.name(sound[place]), outcomes)

    def stamp(self, planned: Planned) -> None:
        for name, value in self.stamped.items():
            column = planned.columns[name]
            planned.columns[name] = [
                value if touched else stands for stands, touched in zip(column, planned.touched, strict=True)
            ]

    def write(self, planned: Planned, sound: Iterable[int]) -> None:
        rows = list(compress(sound, (planned.touched[row] for row in sound)))
        planned.create([row for row in rows if planned.before[row] is None])
        planned.update([row for row in rows if planned.before[row] is not None])

    def finish(self) -> None:
        """What is left to do after the last chunk."""

"""Who changed which record from what to what, written in the transaction of the change.

Called where writing begins: by the views, the admin pages and the imports. What is a log by itself (the ledger, messages,
events) is left out. Of a change only what differs is kept; a secret is never kept, only that it changed.
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from json.encoder import encode_basestring_ascii
from typing import Any, Protocol
from uuid import UUID

from django.db import models, transaction
from django.db.models import QuerySet

from api.edge.caller import author_name
from api.edge.declarations import LogName, find_declaration
from api.edge.log_lines import current_id
from api.models import Change
from inventory.models import Recommendation, StockPolicy
from inventory.plumbing.many_rows import Columns, Memo, insert_columns

AT_ONCE = 500
HIDDEN = "•••"
LONGEST_KEY = 120
SECRETS = frozenset({"password", "digest", "secret", "previous_secret"})
STAMPS = frozenset({"id", "created_at", "updated_at", "last_used_at", "last_login", "wrote_at"})
OWN_LOG = frozenset(
    {
        *("inventory.Lease", "drives.Cover", "drives.CoverState"),
        *("api.LoginAttempt", "api.IdempotencyRecord"),
        *("admin.LogEntry", "sessions.Session", "contenttypes.ContentType"),
    }
)
"""What the service keeps for itself, and no caller reads."""
RecordValues = dict[str, Any]


class ChangeListener(Protocol):
    """Hears of records in the order in which they are written; before and after are JSON of what the log keeps."""

    def __call__(
        self,
        model: type[models.Model],
        keys: Sequence[Any],
        action: str,
        before: Sequence[str],
        after: Sequence[str],
        /,
    ) -> None: ...


_listener: ContextVar[ChangeListener | None] = ContextVar("change_listener", default=None)


@contextmanager
def changes_told_to(listener: ChangeListener) -> Iterator[None]:
    """Around writing whose records somebody follows, whoever writes them."""
    marker = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(marker)


def tell_created(model: type[models.Model], keys: Sequence[Any]) -> None:
    """Of records that have a log of their own."""
    if (listener := _listener.get()) is not None and keys:
        nothing = ["{}"] * len(keys)
        listener(model, keys, "create", nothing, nothing)


BY_ID = LogName(("pk",))


def is_logged(model: type[models.Model]) -> bool:
    declaration = find_declaration(model)
    return model._meta.label not in OWN_LOG if declaration is None else declaration.is_logged


def naming_of(model: type[models.Model]) -> LogName:
    declaration = find_declaration(model)
    return BY_ID if declaration is None else declaration.log_name()


def values_of(record: models.Model) -> RecordValues:
    """The columns of a record as they stand, by the name of their field."""
    return {
        field.name: getattr(record, field.attname)
        for field in record._meta.concrete_fields
        if field.name not in STAMPS
    }


def json_value(name: str, value: Any) -> Any:
    """As JSON holds it."""
    if name in SECRETS:
        return HIDDEN
    if isinstance(value, Decimal):
        text = format(value, "f")
        return text.rstrip("0").rstrip(".") if "." in text else text
    if isinstance(value, date | time):
        return value.isoformat()
    return str(value) if isinstance(value, UUID | bytes) else value


def logged_values(values: Mapping[str, Any], names: Iterable[str]) -> RecordValues:
    return {name: json_value(name, values[name]) for name in sorted(names) if name in values}


@dataclass(frozen=True)
class RecordChange:
    """One change before it is written; `before` is None of a new record, `after` of one that is gone."""

    pk: Any
    before: RecordValues | None
    after: RecordValues | None

    def entry(self, record: str, names: tuple[str, str, str], by: str) -> Change:
        key, storeroom, plant = names
        before, after = self.before or {}, self.after or {}
        if self.before is None or self.after is None:
            fields = {name for name, value in (before | after).items() if value not in (None, "", [], {})}
        else:
            fields = {name for name in before.keys() | after.keys() if before.get(name) != after.get(name)}
        action = "create" if self.before is None else "delete" if self.after is None else "change"
        return Change(
            by_name=by,
            request_id=current_id.get(),
            action=action,
            record=record,
            key=key[:LONGEST_KEY],
            storeroom=storeroom,
            plant=plant,
            before=logged_values(before, fields),
            after=logged_values(after, fields),
        )


def names_of(model: type[models.Model], keys: Sequence[Any]) -> dict[Any, tuple[str, str, str]]:
    """Key, storeroom and plant of each record; one query for every five hundred."""
    naming = naming_of(model)
    places = [path for path in (naming.storeroom, naming.plant) if path]
    found = {}
    for start in range(0, len(keys), AT_ONCE):
        rows = model._base_manager.filter(pk__in=keys[start : start + AT_ONCE])
        for pk, *columns in rows.order_by().values_list("pk", *naming.key, *places):
            key = "/".join(str(part) for part in columns[: len(naming.key)] if part not in (None, ""))
            codes = dict(zip(places, columns[len(naming.key) :], strict=True))
            found[pk] = (key or str(pk), codes.get(naming.storeroom) or "", codes.get(naming.plant) or "")
    return found


def write_changes(
    model: type[models.Model],
    changes: Iterable[RecordChange],
    known: Mapping[Any, tuple[str, str, str]] | None = None,
    by: str = "",
) -> None:
    """Keep the changes; `known` names the records that are gone already."""
    kept = [one for one in changes if one.before != one.after]
    if not kept or not is_logged(model):
        return
    label, who = model._meta.label_lower, by or author_name()
    names = {**(known or {}), **names_of(model, [one.pk for one in kept if one.after is not None])}
    entries = [one.entry(label, names.get(one.pk, (str(one.pk), "", "")), who) for one in kept]
    Change.objects.bulk_create(entries, batch_size=AT_ONCE)
    if (listener := _listener.get()) is not None:
        for one, entry in zip(kept, entries, strict=True):
            listener(model, [one.pk], entry.action, [json.dumps(entry.before)], [json.dumps(entry.after)])


class Fragments:
    """A member of logged states as JSON, by value."""

    def __init__(self, field: "models.Field[Any, Any]") -> None:
        self.name = field.name
        self.begin = f"{json.dumps(field.name)}: "
        # Lists cannot be remembered.
        self.is_plain = not isinstance(field, models.JSONField)

    def of(self, column: Iterable[Any]) -> Iterable[str]:
        return map(Memo(self.fragment).__getitem__ if self.is_plain else self.fragment, column)

    def of_new(self, column: Iterable[Any]) -> Iterable[str]:
        """Nothing where a new record says nothing."""
        return map(Memo(self.fragment_of_new).__getitem__ if self.is_plain else self.fragment_of_new, column)

    def fragment(self, value: Any) -> str:
        said = json_value(self.name, value)
        if type(said) is str:
            return self.begin + encode_basestring_ascii(said)
        return self.begin + (str(said) if type(said) is int else json.dumps(said))

    def fragment_of_new(self, value: Any) -> str:
        # A decimal is slow to compare with what is no number.
        says_nothing = value is None or (isinstance(value, str | list | dict) and not value)
        return "" if says_nothing else self.fragment(value)


def log_columns_created(model: type[models.Model], keys: Sequence[Any], columns: Columns) -> None:
    """As `write_changes` does it for new records, for many at once."""
    if not is_logged(model):
        return
    fragments = [Fragments(field).of_new(columns[field.attname]) for field in logged_fields(model, columns)]
    after = [braced(filter(None, parts)) for parts in zip(*fragments, strict=True)]
    insert_changes(model, keys, columns, "create", ["{}"] * len(keys), after)


def log_columns_changed(
    model: type[models.Model], keys: Sequence[Any], before: Columns, after: Columns
) -> None:
    """As `write_changes` does it for changed records: what differs is kept, and a row without a difference is not."""
    if not is_logged(model):
        return
    old: list[list[str]] = [[] for _ in keys]
    new: list[list[str]] = [[] for _ in keys]
    for field in logged_fields(model, after):
        pairs = zip(before[field.attname], after[field.attname], strict=True)
        rows = [row for row, (was, now) in enumerate(pairs) if was != now]
        fragments = Fragments(field)
        for states, columns in ((old, before), (new, after)):
            found = fragments.of(columns[field.attname][row] for row in rows)
            for row, fragment in zip(rows, found, strict=True):
                states[row].append(fragment)
    kept = [row for row, parts in enumerate(new) if parts]
    if kept:
        insert_changes(
            model,
            [keys[row] for row in kept],
            {name: [column[row] for row in kept] for name, column in after.items()},
            "change",
            [braced(old[row]) for row in kept],
            [braced(new[row]) for row in kept],
        )


def logged_fields(model: type[models.Model], columns: Columns) -> "list[models.Field[Any, Any]]":
    fields = (field for field in model._meta.concrete_fields if field.attname in columns)
    return sorted((field for field in fields if field.name not in STAMPS), key=lambda field: field.name)


def braced(parts: Iterable[str]) -> str:
    return "{" + ", ".join(parts) + "}"


def insert_changes(
    model: type[models.Model],
    keys: Sequence[Any],
    columns: Columns,
    action: str,
    before: Sequence[str],
    after: Sequence[str],
) -> None:
    size = len(keys)
    names, storerooms, plants = names_in_columns(model, keys, columns)
    insert_columns(
        Change,
        {
            "by_name": [author_name()] * size,
            "request_id": [current_id.get()] * size,
            "action": [action] * size,
            "record": [model._meta.label_lower] * size,
            "key": [name[:LONGEST_KEY] for name in names],
            "storeroom": storerooms,
            "plant": plants,
            "before": before,
            "after": after,
        },
    )
    if (listener := _listener.get()) is not None:
        listener(model, keys, action, before, after)


def names_in_columns(
    model: type[models.Model], keys: Sequence[Any], columns: Columns
) -> tuple[Sequence[str], Sequence[str], Sequence[str]]:
    """As `names_of`; no query where the record itself holds its name."""
    naming = naming_of(model)
    if not naming.storeroom and not naming.plant and len(naming.key) == 1:
        own = keys if naming.key == ("pk",) else columns.get(naming.key[0])
        if own is not None:
            return [str(part) for part in own], [""] * len(keys), [""] * len(keys)
    found = names_of(model, keys)
    parts = list(zip(*(found[key] for key in keys), strict=True))
    return parts[0], parts[1], parts[2]


def log_creation(record: models.Model) -> None:
    write_changes(type(record), [RecordChange(record.pk, None, values_of(record))])


def log_change(record: models.Model, before: RecordValues) -> None:
    """`before` is what `values_of` said before the change."""
    write_changes(type(record), [RecordChange(record.pk, before, values_of(record))])


@contextmanager
def logging_deletion(records: Sequence[models.Model]) -> Iterator[None]:
    """Around the deletion of records of one model."""
    if not records or not is_logged(type(records[0])):
        yield
        return
    model = type(records[0])
    deleted = [RecordChange(record.pk, values_of(record), None) for record in records]
    names = names_of(model, [record.pk for record in records])
    yield
    write_changes(model, deleted, names)


@contextmanager
def logging_save(record: models.Model) -> Iterator[None]:
    """Around the change and save of one record, new or standing."""
    before = None if record._state.adding else values_of(record)
    yield
    write_changes(type(record), [RecordChange(record.pk, before, values_of(record))])


def rows_of(querysets: Iterable[QuerySet[Any]]) -> dict[Any, RecordValues]:
    return {record.pk: values_of(record) for rows in querysets for record in rows.order_by()}


@contextmanager
def logging_changes(*querysets: QuerySet[Any], by: str = "") -> Iterator[None]:
    """Around a writer that says nothing of what it wrote: the rows are compared before and after."""
    before = rows_of(rows.all() for rows in querysets)
    names = names_of(querysets[0].model, list(before)) if querysets else {}
    yield
    after = rows_of(rows.all() for rows in querysets)
    if querysets:
        keys = [*before, *(pk for pk in after if pk not in before)]
        write_changes(
            querysets[0].model, [RecordChange(pk, before.get(pk), after.get(pk)) for pk in keys], names, by
        )


@contextmanager
def logging_policy_decision(recommendation: Recommendation) -> Iterator[None]:
    """Around a decision, which may set what is kept of an item in a storeroom."""
    place = {"item": recommendation.item_id, "storeroom": recommendation.storeroom_id}
    with transaction.atomic(), logging_changes(StockPolicy.objects.filter(**place)):
        yield

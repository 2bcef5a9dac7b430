"""Undo a whole import while nothing rests on it: what it created is deleted, what it changed is as it was before.

The ledger keeps what was booked: movements of the import are reversed, and the records that they name stay.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import Any

from django.apps import apps
from django.db import models, transaction
from django.db.models.deletion import Collector, ProtectedError, RestrictedError
from django.utils import timezone

from api.edge.caller import acting_as
from api.edge.change_log import json_value, log_columns_changed, logging_deletion, names_of
from api.edge.declarations import find_declaration
from api.exchange.checking import batches
from api.exchange.import_sets import SetRefused
from api.exchange.tables import MESSAGE_KINDS
from api.exchange.writing import one_import_at_a_time
from api.models import ImportedChange, ImportSet, ImportSetState
from drives.models import RecordedVerdict
from inventory.facts import Fact, fact
from inventory.models import Item, StockEntry, StockLevel
from inventory.planning.runs import leave_to_next_run
from inventory.plumbing.many_rows import update_columns
from inventory.stores.ledger import LedgerRefusal, reverse
from inventory.stores.ledger.movement import Who, name_of

REASON = "import undone"
KEPT_ELSEWHERE = frozenset({*MESSAGE_KINDS, "delivery-checks"})
"""Kinds whose rows are booked by other rooms, and are taken back there."""
SHELF = ("item", "storeroom", "condition")
Model = type[models.Model]
Keys = dict[Model, set[Any]]
Changed = dict[tuple[Model, Any], tuple[dict[str, Any], dict[str, Any]]]
"""Of each record the values before the first and after the last change."""


def undo(owner: ImportSet, *, by: Who) -> ImportSet:
    """All of it, or a refusal with the first reason; one transaction."""
    with transaction.atomic(), acting_as(name_of(by)):
        owner = ImportSet.objects.select_for_update(of=("self",)).get(pk=owner.pk)
        if owner.state != ImportSetState.DONE:
            raise SetRefused(fact("import_not_done", state=str(owner.state)))
        if kept := never_undone(owner):
            raise SetRefused(kept)
        one_import_at_a_time()
        created, changed = journal_of(owner)
        entries = created.pop(StockEntry, set())
        refuse_later_movements(entries, created)
        counts = Counter[str](reversed=reverse_all(entries, by))
        refuse_changed_since(changed)
        counts["restored"] = restore(changed)
        staying = named_by_ledger(entries, created)
        counts["kept"] = sum(map(len, staying.values()))
        counts["deleted"] = delete(owner, created, staying)
        owner.state, owner.undone_at = ImportSetState.UNDONE, timezone.now()
        owner.undone_by_name, owner.undo_result = name_of(by), dict(counts)
        owner.save(update_fields=["state", "undone_at", "undone_by_name", "undo_result"])
        leave_to_next_run()
    return owner


def never_undone(owner: ImportSet) -> Fact | None:
    """Why it cannot be undone, whatever happens after it."""
    kept = sorted(set(owner.sheets.values_list("kind", flat=True)) & KEPT_ELSEWHERE)
    return fact("import_kind_not_undone", kind=kept[0]) if kept else None


def journal_of(owner: ImportSet) -> tuple[Keys, Changed]:
    """What was created, by model, and what was changed of records that stood before."""
    created: Keys = defaultdict(set)
    changed: Changed = {}
    rows = owner.changes.order_by("id").values_list("model", "record_id", "is_new", "before", "after")
    for label, key, is_new, before, after in rows.iterator(chunk_size=2_000):
        model = apps.get_model(label)
        if is_new:
            created[model].add(key)
        elif key not in created[model]:
            first, last = changed.setdefault((model, key), ({}, {}))
            for name in before | after:
                first.setdefault(name, before.get(name))
                last[name] = after.get(name)
    return created, changed


def refuse_later_movements(entries: set[Any], created: Keys) -> None:
    """Nothing may have been booked since on a shelf of the import, nor under an item that it brought."""
    new_items = created.get(Item, set())
    later = first_later(StockEntry.objects.filter(item__in=new_items).exclude(pk__in=entries))
    if later is None and entries:
        shelves = set(StockEntry.objects.filter(pk__in=entries).values_list(*SHELF))
        since = StockEntry.objects.filter(pk__gt=min(entries)).exclude(pk__in=entries)
        keys = (
            pk for pk, *shelf in since.order_by("pk").values_list("pk", *SHELF) if tuple(shelf) in shelves
        )
        later = first_later(StockEntry.objects.filter(pk=next(keys, 0)))
    if later is not None:
        values = {"item": later.item.stock_number, "storeroom": later.storeroom.code, "movement": later.pk}
        raise SetRefused(fact("stock_moved_since", **values))


def first_later(entries: models.QuerySet[StockEntry]) -> StockEntry | None:
    return entries.select_related("item", "storeroom").order_by("pk").first()


def reverse_all(entries: set[Any], by: Who) -> int:
    """The last one first."""
    count = 0
    rows = StockEntry.objects.with_places().filter(pk__in=entries).order_by("-pk")
    done: set[Any] = set()
    for entry in rows:
        if entry.transfer in done or entry.change == 0:
            continue
        if entry.transfer:
            done.add(entry.transfer)
        try:
            reverse(entry, by=by, reason=REASON)
        except LedgerRefusal as refusal:
            raise SetRefused(refusal.fact) from refusal
        count += 1
    return count


def refuse_changed_since(changed: Changed) -> None:
    for (model, key), (_, last) in changed.items():
        record = model._base_manager.filter(pk=key).first()
        if record is None:
            raise SetRefused(fact("record_gone_since", record=label_of(model), name=str(key)))
        for name, value in last.items():
            field: Any = model._meta.get_field(name)
            stands = json_value(name, getattr(record, field.attname))
            if stands != value and (stands or value):
                found = fact("record_changed_since", record=label_of(model), name=str(record), field=name)
                raise SetRefused(found)


def restore(changed: Changed) -> int:
    for (model, key), (first, _) in changed.items():
        fields: list[Any] = [model._meta.get_field(name) for name in first]
        names = [field.attname for field in fields]
        standing = model._base_manager.filter(pk=key).values_list(*names).get()
        before = {name: [value] for name, value in zip(names, standing, strict=True)}
        after = {field.attname: [understood(field, first[field.name])] for field in fields}
        update_columns(model, [key], after)
        # The name of the record stands in its other columns.
        others = [field.attname for field in model._meta.concrete_fields if field.attname not in before]
        rest = dict(zip(others, model._base_manager.filter(pk=key).values_list(*others).get(), strict=True))
        whole = {name: [value] for name, value in rest.items()}
        log_columns_changed(model, [key], {**whole, **before}, {**whole, **after})
    return len(changed)


def understood(field: Any, value: Any) -> Any:
    """A value of the log as the column takes it; what a new record did not say is empty."""
    if value is None and not field.null:
        return field.get_default()
    return field.to_python(value) if not field.is_relation else value


def named_by_ledger(entries: set[Any], created: Keys) -> Keys:
    """Created records that the ledger names, with all that they refer to."""
    staying: Keys = defaultdict(set)
    booked = list(StockEntry.objects.filter(pk__in=entries))
    found: list[models.Model] = [*booked]
    found += StockLevel.objects.filter(item__in={entry.item_id for entry in booked})
    found += RecordedVerdict.objects.filter(entry__in=entries)
    while found:
        record = found.pop()
        for field in record._meta.concrete_fields:
            target: Any = field.related_model
            key = getattr(record, field.attname) if target else None
            if key is not None and key in created.get(target, ()) and key not in staying[target]:
                staying[target].add(key)
                found.append(target._base_manager.get(pk=key))
    return staying


def delete(owner: ImportSet, created: Keys, staying: Keys) -> int:
    """In the order against that of writing; refused where a record of somebody else rests on one."""
    count = 0
    own = {model: keys - staying.get(model, set()) for model, keys in created.items()}
    for model in reversed(order_of(owner)):
        keys = sorted(own.get(model, ()))
        records = list(model._base_manager.filter(pk__in=keys))
        forget_each_other(model, keys)
        for batch in batches(records):
            refuse_resting(model, batch, created)
            with logging_deletion(batch):
                model._base_manager.filter(pk__in=[one.pk for one in batch]).delete()
        count += len(records)
    return count


def forget_each_other(model: Model, keys: Sequence[Any]) -> None:
    """Records that go together may name each other, as an item names its successor."""
    for field in model._meta.concrete_fields:
        if field.related_model is model and field.null:
            for batch in batches(keys):
                model._base_manager.filter(pk__in=batch).update(**{field.name: None})


def order_of(owner: ImportSet) -> list[Model]:
    """Models by the first record that was created of each."""
    labels = (
        ImportedChange.objects.filter(set=owner, is_new=True)
        .values("model")
        .annotate(first=models.Min("id"))
        .order_by("first")
    )
    return [apps.get_model(row["model"]) for row in labels if row["model"] != "inventory.stockentry"]


class EveryRecord(Collector):
    """Also those that the database could delete unseen."""

    def can_fast_delete(self, objs: Any, from_field: Any = None) -> bool:
        return False


def refuse_resting(model: Model, records: Sequence[models.Model], created: Keys) -> None:
    collector = EveryRecord(using="default")
    try:
        collector.collect(records)
    except (ProtectedError, RestrictedError) as error:
        found: Any = error.args[1]
        resting = next(iter(found))
        raise SetRefused(resting_fact(model, resting)) from error
    for other, objects in collector.data.items():
        # What is calculated goes with its record, as its verdict does; what somebody wrote does not.
        if other in (model, RecordedVerdict) or find_declaration(other) is None:
            continue
        for one in objects:
            if one.pk not in created.get(other, ()):
                raise SetRefused(resting_fact(model, one))


def resting_fact(model: Model, resting: models.Model) -> Fact:
    named = names_of(type(resting), [resting.pk])
    return fact(
        "record_in_use_since",
        record=label_of(model),
        by=label_of(type(resting)),
        name=named.get(resting.pk, (str(resting.pk), "", ""))[0],
    )


def label_of(model: Model) -> str:
    return str(model._meta.verbose_name)

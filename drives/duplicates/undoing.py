"""Takes a merge back: every line as it was before, or nothing, with what stands in the way."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from drives.duplicates.doubts import MergeRefused
from drives.duplicates.merging import LONGEST_REASON_OF_MOVEMENT, POLICY, policy_as_json, publish
from drives.models import Request
from inventory.facts import Fact, fact
from inventory.models import (
    CountState,
    CountTask,
    Item,
    Merge,
    MergeLine,
    MergeState,
    MergeStep,
    Recommendation,
    Reservation,
    StockEntry,
    StockPolicy,
    SupplyOrder,
    SupplyStatus,
)
from inventory.plumbing.record_validation import refuse_unsound_columns
from inventory.stores.ledger.movement import Who, name_of
from inventory.stores.ledger.renumbering import MovedReservation, MovedStock, bring_back_number, lock_items


def undo(merge: Merge, *, by: Who, reason: str) -> Merge:
    """Refused where stock has gone; what was set, reversed or ended since stays with the other number and is named."""
    now = timezone.now()
    if not reason.strip():
        raise MergeRefused(fact("undo_reason_missing"), field="reason")
    with transaction.atomic():
        locked = lock_items([merge.item, merge.into])
        held = Merge.objects.select_for_update(of=("self",)).select_related("item", "into").get(pk=merge.pk)
        _refuse_state(held, locked[held.item_id], locked[held.into_id])
        held.item, held.into = locked[held.item_id], locked[held.into_id]
        held.state, held.undone_at, held.undone_by_name = MergeState.UNDONE, now, name_of(by)
        held.undo_reason = reason.strip()
        refuse_unsound_columns(held)
        lines = list(held.lines.select_related("storeroom").order_by("pk"))
        left: list[Fact] = []
        obstacles = _bring_back_stock(held, lines, left, by)
        if obstacles:
            names = {"item": held.item.stock_number, "into": held.into.stock_number}
            raise MergeRefused(fact("merge_not_undone", **names, obstacles=obstacles))
        left += _reversed_since(held)
        left += _bring_back_policies(held, lines)
        left += _bring_back_orders(held, lines)
        _bring_back_requests(held, lines)
        _bring_back_recommendations(lines)
        left += _bring_back_counts(held, lines)
        _rename_back(held, lines)
        held.left_with = [one.as_json() for one in left]
        held.save()
        publish("merge_undone", held, now)
    return held


def _refuse_state(merge: Merge, item: Item, into: Item) -> None:
    if merge.state != MergeState.MERGED:
        raise MergeRefused(fact("merge_undone_already", undone_by=merge.undone_by_name))
    if item.merged_into_id != into.pk:
        later = Item.objects.get(pk=item.merged_into_id).stock_number if item.merged_into_id else ""
        names = {"item": item.stock_number, "into": into.stock_number, "later": later}
        raise MergeRefused(fact("merge_merged_further", **names))


def _of(lines: Iterable[MergeLine], step: MergeStep) -> list[MergeLine]:
    return [line for line in lines if line.step == step]


def _key(line: MergeLine) -> int:
    assert line.record_id is not None, f"A line of {line.step} names its record."
    return line.record_id


def _bring_back_stock(
    merge: Merge, lines: Sequence[MergeLine], left: list[Fact], by: Who
) -> tuple[Fact, ...]:
    stock = []
    for line in _of(lines, MergeStep.STOCK):
        assert line.storeroom is not None
        assert line.transfer is not None
        stock.append(
            MovedStock(line.storeroom, line.condition, line.quantity, line.transfer, line.before["bin"])
        )
    held_lines = _of(lines, MergeStep.RESERVATION)
    opened = Reservation.objects.open().filter(item=merge.into)
    rows = opened.in_bulk([_key(line) for line in held_lines])
    for line in held_lines:
        if line.record_id not in rows:
            gone = Reservation.objects.get(pk=_key(line))
            left.append(fact("reservation_ended_since", work_order=gone.work_order, state=str(gone.state)))
    return bring_back_number(
        merge.item,
        merge.into,
        stock=stock,
        reservations=[MovedReservation(one, one.open_quantity) for one in rows.values()],
        by=by,
        reason=f"Merge {merge.pk} undone: {merge.undo_reason}"[:LONGEST_REASON_OF_MOVEMENT],
        at=merge.undone_at or timezone.now(),
    )


def _reversed_since(merge: Merge) -> Iterator[Fact]:
    """Movements from before the merge that were reversed after it: the pieces are those of the other number."""
    entries = StockEntry.objects.filter(item=merge.into, reverses__item=merge.item)
    rooms = (
        entries.filter(recorded_at__gte=merge.merged_at).order_by("storeroom__code").values("storeroom__code")
    )
    names = {"item": merge.item.stock_number, "into": merge.into.stock_number}
    for row in rooms.annotate(total=Sum("change")):
        yield fact("reversed_since", **names, storeroom=row["storeroom__code"], change=row["total"])


def _bring_back_policies(merge: Merge, lines: Sequence[MergeLine]) -> Iterator[Fact]:
    """A policy that a person has set or deleted since stays so."""
    for line in _of(lines, MergeStep.POLICY):
        assert line.storeroom is not None
        policies = StockPolicy.objects.select_for_update(of=("self",))
        now_set = policies.filter(item=merge.into, storeroom=line.storeroom).first()
        own, other = line.before["own"], line.before["into"]
        key = own["id"]
        if now_set is None or policy_as_json(now_set) != line.after:
            names = {"item": merge.item.stock_number, "into": merge.into.stock_number}
            yield fact("policy_set_since", **names, storeroom=line.storeroom.code)
            key = None if now_set is not None and now_set.pk == key else key
        elif other is None:
            StockPolicy.objects.filter(pk=now_set.pk).update(item=merge.item, updated_at=merge.undone_at)
            continue
        else:
            StockPolicy.objects.filter(pk=now_set.pk).update(**_columns(other), updated_at=merge.undone_at)
        StockPolicy.objects.create(pk=key, item=merge.item, storeroom=line.storeroom, **_columns(own))


def _columns(stored: dict[str, Any]) -> dict[str, Any]:
    review = stored["review_on"]
    found = {name: stored[name] for name in POLICY}
    return found | {"review_on": date.fromisoformat(review) if review else None}


def _bring_back_orders(merge: Merge, lines: Sequence[MergeLine]) -> Iterator[Fact]:
    for line in _of(lines, MergeStep.SUPPLY_ORDER):
        order = SupplyOrder.objects.select_for_update(of=("self",)).get(pk=_key(line))
        if order.status == SupplyStatus.OPEN and order.item_id == merge.into.pk:
            SupplyOrder.objects.filter(pk=order.pk).update(item=merge.item, updated_at=merge.undone_at)
        else:
            yield fact("order_ended_since", order=order.external_id, status=str(order.status))


def _bring_back_requests(merge: Merge, lines: Sequence[MergeLine]) -> None:
    for line in _of(lines, MergeStep.REQUESTS):
        for column, keys in line.before.items():
            Request.objects.filter(pk__in=keys, **{column: merge.into}).update(**{column: merge.item})


def _bring_back_recommendations(lines: Sequence[MergeLine]) -> None:
    """Unless a run has made a newer one, which stays the current one."""
    for line in _of(lines, MergeStep.RECOMMENDATION):
        one = Recommendation.objects.select_for_update(of=("self",)).get(pk=_key(line))
        newer = Recommendation.objects.current().filter(item=one.item_id, storeroom=one.storeroom_id)
        if not newer.exists():
            one.state = line.before["state"]
            one.save(update_fields=["state", "updated_at"])


def _bring_back_counts(merge: Merge, lines: Sequence[MergeLine]) -> Iterator[Fact]:
    for line in _of(lines, MergeStep.COUNT):
        task = CountTask.objects.select_for_update(of=("self",)).get(pk=_key(line))
        was_moved, was_dropped = task.item_id == merge.into.pk, task.state == CountState.DROPPED
        if was_moved and task.state != CountState.OPEN:
            yield fact("count_ended_since", storeroom=line.storeroom.code if line.storeroom else "")
        elif was_moved or was_dropped:
            task.item, task.state = merge.item, CountState.OPEN
            task.note, task.counted_by_name = line.before["note"], line.before["counted_by_name"]
            task.save(update_fields=["item", "state", "note", "counted_by_name", "updated_at"])


def _rename_back(merge: Merge, lines: Sequence[MergeLine]) -> None:
    (line,) = _of(lines, MergeStep.ITEM)
    item = merge.item
    item.merged_into = None
    item.lifecycle, item.replaced_by_id = line.before["lifecycle"], line.before["replaced_by"]
    item.save(update_fields=["lifecycle", "replaced_by", "merged_into", "updated_at"])
    followers = Item.objects.filter(pk__in=line.before["followers"], merged_into=merge.into)
    followers.update(merged_into=item, updated_at=merge.undone_at)

"""Puts one number in place of another: stock, reservations, policies, open orders, requests and open counts go on under it.

What was booked stays as it was booked. Each step is a line of the merge, by which `undoing` puts it back.
"""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from drives.duplicates.doubts import MergeRefused, doubts_of, refuse_merge
from drives.models import Request
from inventory.facts import Fact, fact
from inventory.models import (
    CountState,
    CountTask,
    Item,
    Lifecycle,
    Merge,
    MergeLine,
    MergeStep,
    Recommendation,
    RecommendationState,
    StockPolicy,
    SupplyOrder,
)
from inventory.models.stocking import MOST_KEPT
from inventory.plumbing.events import record
from inventory.plumbing.record_validation import refuse_unsound_columns
from inventory.stores.ledger.movement import Who, name_of
from inventory.stores.ledger.renumbering import lock_items, move_number

LEVELS = ("stocked", "reorder_point", "order_up_to")
POLICY = (*LEVELS, "reason", "review_on", "set_by_name")
LONGEST_REASON_OF_MOVEMENT = 200


def merge(
    item: Item, into: Item, *, by: Who, reason: str, approved_by: str = "", approval_reason: str = ""
) -> Merge:
    """`item` becomes an old number of `into`; all of it or nothing.

    Where there is a doubt (`doubts_of`), an engineer must have said yes, who is not the one who merges.
    """
    now = timezone.now()
    made = Merge(
        item=item,
        into=into,
        reason=reason.strip(),
        approved_by=approved_by.strip(),
        approval_reason=approval_reason.strip(),
        merged_at=now,
        merged_by_name=name_of(by),
    )
    if not made.reason:
        raise MergeRefused(fact("merge_reason_missing"), field="reason")
    refuse_unsound_columns(made)
    refuse_merge(item, into)
    with transaction.atomic():
        # Another merge may have come first: asked again of the locked rows.
        locked = lock_items([item, into])
        item, into = locked[item.pk], locked[into.pk]
        refuse_merge(item, into)
        _refuse_ended(item, into)
        doubts = doubts_of(item, into)
        _check_approval(made, doubts)
        made.doubts, made.needs_approval = [one.as_json() for one in doubts], bool(doubts)
        made.item, made.into = item, into
        made.save(force_insert=True)
        MergeLine.objects.bulk_create(_steps(made, by))
        publish("merged", made, now)
    return made


def publish(what: str, made: Merge, at: datetime) -> None:
    record(
        f"item.{what}",
        aggregate=f"item/{made.item.stock_number}",
        occurred_at=at,
        data={
            "merge": made.pk,
            "item": made.item.stock_number,
            "into": made.into.stock_number,
            "reason": made.undo_reason or made.reason,
            "by": made.undone_by_name or made.merged_by_name,
        },
    )


def _refuse_ended(item: Item, into: Item) -> None:
    if into.lifecycle != Lifecycle.ACTIVE:
        found = fact("merge_into_ended_item", into=into.stock_number, lifecycle=into.lifecycle)
        raise MergeRefused(found, field="lifecycle")
    follower, seen = into.replaced_by, {into.pk}
    while follower is not None and follower.pk not in seen:
        if follower.pk == item.pk:
            names = {"item": item.stock_number, "into": into.stock_number}
            raise MergeRefused(fact("merge_into_replaced_item", **names), field="replaced_by")
        seen.add(follower.pk)
        follower = follower.replaced_by


def _check_approval(made: Merge, doubts: tuple[Fact, ...]) -> None:
    if not doubts:
        return
    names = {"item": made.item.stock_number, "into": made.into.stock_number}
    for field in ("approved_by", "approval_reason"):
        if not getattr(made, field):
            raise MergeRefused(fact("merge_needs_engineer", **names, doubts=doubts), field=field)
    if made.approved_by.casefold().split() == made.merged_by_name.casefold().split():
        raise MergeRefused(
            fact("approver_is_requester", requested_by=made.merged_by_name), field="approved_by"
        )


def _steps(made: Merge, by: Who) -> Iterator[MergeLine]:
    yield from _move_stock(made, by)
    yield from _move_policies(made)
    yield from _move_orders(made)
    yield from _move_requests(made)
    yield from _supersede_recommendations(made)
    yield from _move_counts(made)
    yield _rename(made)


def _move_stock(made: Merge, by: Who) -> Iterator[MergeLine]:
    reason = f"{made.item} merged into {made.into}: {made.reason}"[:LONGEST_REASON_OF_MOVEMENT]
    moved = move_number(made.item, made.into, by=by, reason=reason, at=made.merged_at)
    for one in moved.stock:
        yield MergeLine(
            merge=made,
            step=MergeStep.STOCK,
            storeroom=one.storeroom,
            condition=one.condition,
            quantity=one.quantity,
            transfer=one.transfer,
            before={"bin": one.bin_id},
        )
    for held in moved.reservations:
        yield MergeLine(
            merge=made,
            step=MergeStep.RESERVATION,
            storeroom=held.reservation.storeroom,
            condition=held.reservation.condition,
            quantity=held.open_quantity,
            record_id=held.reservation.pk,
        )


def _move_policies(made: Merge) -> Iterator[MergeLine]:
    """Where both have one, the levels are added up: no less is kept than before, until the next run recommends less."""
    policies = StockPolicy.objects.select_for_update(of=("self",)).select_related("storeroom")
    found = {
        (row.item_id, row.storeroom_id): row
        for row in policies.filter(item__in=[made.item, made.into]).order_by("pk")
    }
    for (item, room), own in found.items():
        if item != made.item.pk:
            continue
        other = found.get((made.into.pk, room))
        before: dict[str, Any] = {"own": policy_as_json(own), "into": other and policy_as_json(other)}
        if other is None:
            StockPolicy.objects.filter(pk=own.pk).update(item=made.into, updated_at=made.merged_at)
            kept = own
        else:
            StockPolicy.objects.filter(pk=own.pk).delete()
            kept = _add_up(other, own, made)
        yield MergeLine(
            merge=made,
            step=MergeStep.POLICY,
            storeroom=own.storeroom,
            record_id=before["own"]["id"],
            before=before,
            after=policy_as_json(kept),
        )


def _add_up(policy: StockPolicy, other: StockPolicy, made: Merge) -> StockPolicy:
    both = [one for one in (policy, other) if one.stocked]
    policy.stocked = bool(both)
    if both:
        policy.order_up_to = min(sum(one.order_up_to for one in both), MOST_KEPT)
        policy.reorder_point = min(sum(one.reorder_point for one in both), policy.order_up_to - 1)
    policy.reason = f"Levels of {made.item} and {made.into} added up: merge {made.pk}"
    policy.review_on = min((one.review_on for one in (policy, other) if one.review_on), default=None)
    policy.set_by_name = made.merged_by_name
    policy.save(update_fields=[*POLICY, "updated_at"])
    return policy


def policy_as_json(policy: StockPolicy) -> dict[str, Any]:
    """As it is kept in a line: the review as text."""
    found = {name: getattr(policy, name) for name in POLICY}
    return found | {"id": policy.pk, "review_on": policy.review_on and policy.review_on.isoformat()}


def _move_orders(made: Merge) -> Iterator[MergeLine]:
    orders = SupplyOrder.objects.open().filter(item=made.item).select_for_update(of=("self",)).order_by("pk")
    for order in list(orders.select_related("storeroom")):
        SupplyOrder.objects.filter(pk=order.pk).update(item=made.into, updated_at=made.merged_at)
        yield MergeLine(
            merge=made,
            step=MergeStep.SUPPLY_ORDER,
            storeroom=order.storeroom,
            record_id=order.pk,
            quantity=order.outstanding,
        )


def _move_requests(made: Merge) -> Iterator[MergeLine]:
    """All of them, with what was issued for them: the demand of both is that of the number that stays."""
    found: dict[str, list[int]] = {}
    for column in ("item", "issued_item"):
        rows = Request.objects.filter(**{column: made.item})
        found[column] = list(rows.order_by("pk").values_list("pk", flat=True))
        rows.update(**{column: made.into})
    if any(found.values()):
        number = len({*found["item"], *found["issued_item"]})
        yield MergeLine(merge=made, step=MergeStep.REQUESTS, quantity=number, before=found)


def _supersede_recommendations(made: Merge) -> Iterator[MergeLine]:
    """They were calculated for each number alone; the next run calculates those of both together."""
    rows = Recommendation.objects.current().select_for_update(of=("self",)).select_related("storeroom")
    outdated = Q(item=made.item) | Q(item=made.into, state=RecommendationState.OPEN)
    for one in rows.filter(outdated).order_by("pk"):
        yield MergeLine(
            merge=made,
            step=MergeStep.RECOMMENDATION,
            storeroom=one.storeroom,
            record_id=one.pk,
            before={"state": str(one.state)},
        )
        one.state = RecommendationState.SUPERSEDED
        one.save(update_fields=["state", "updated_at"])


def _move_counts(made: Merge) -> Iterator[MergeLine]:
    """One open count for each shelf: where the other number has one, that counts both."""
    rows = CountTask.objects.open().select_for_update(of=("self",)).select_related("storeroom").order_by("pk")
    both = list(rows.filter(item__in=[made.item, made.into]))
    known = {(one.storeroom_id, one.condition) for one in both if one.item_id == made.into.pk}
    for task in both:
        if task.item_id != made.item.pk:
            continue
        before = {"note": task.note, "counted_by_name": task.counted_by_name}
        if (task.storeroom_id, task.condition) in known:
            task.state, task.note = CountState.DROPPED, f"Counted as {made.into}"[:200]
            task.counted_by_name = made.merged_by_name
        else:
            task.item = made.into
        task.save(update_fields=["item", "state", "note", "counted_by_name", "updated_at"])
        yield MergeLine(
            merge=made,
            step=MergeStep.COUNT,
            storeroom=task.storeroom,
            condition=task.condition,
            record_id=task.pk,
            before=before,
        )


def _rename(made: Merge) -> MergeLine:
    """The old number is blocked and leads to the one that stays, and so do the numbers that were merged into it before."""
    item, into = made.item, made.into
    followers = list(item.merged_numbers.order_by("pk").values_list("pk", flat=True))
    before = {"lifecycle": item.lifecycle, "replaced_by": item.replaced_by_id, "followers": followers}
    item.lifecycle, item.replaced_by, item.merged_into = Lifecycle.BLOCKED, into, into
    item.save(update_fields=["lifecycle", "replaced_by", "merged_into", "updated_at"])
    Item.objects.filter(pk__in=followers).update(merged_into=into, updated_at=made.merged_at)
    return MergeLine(merge=made, step=MergeStep.ITEM, record_id=item.pk, before=before)

"""Mark items to be run down, and take it back: nothing more is bought of them, and what lies there is used up."""

from collections.abc import Collection

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from drives.demand.cover import GRADES_KEPT
from drives.models import Cover, Criticality
from inventory.facts import Refusal, fact
from inventory.models import Item, Lifecycle, RunDown
from inventory.models.access_scope import current_scope

LONGEST_REASON = 200


def run_down(item_ids: Collection[int], *, by: str, reason: str) -> list[RunDown]:
    """All of them or none; refused where one is the only active item held for a vital or lifting drive."""
    reason = _checked(reason)
    with transaction.atomic():
        items = list(Item.objects.select_for_update().filter(pk__in=item_ids).order_by("stock_number"))
        if not items or len(items) != len(set(item_ids)):
            raise Refusal(fact("run_down_names_no_item"), field="item")
        for item in items:
            if item.lifecycle != Lifecycle.ACTIVE:
                raise Refusal(fact("run_down_not_active", item=item.stock_number), field="item")
        _refuse_only_cover(item_ids)
        for item in items:
            item.lifecycle = Lifecycle.RUN_DOWN
            item.save(update_fields=["lifecycle", "updated_at"])
        rows = [RunDown(item=item, reason=reason, marked_by_name=by) for item in items]
        # One set by hand before has no row of its own; one left open by an edit of the item is closed with this one.
        RunDown.objects.filter(item__in=items, undone_at__isnull=True).update(
            undone_at=timezone.now(), undone_by_name=by, undone_reason=reason
        )
        return RunDown.objects.bulk_create(rows)


def undo_run_down(key: int, *, by: str, reason: str) -> RunDown:
    """The item is active again; refused where it is not being run down any more."""
    reason = _checked(reason)
    with transaction.atomic():
        # The item is locked first, as when it is marked.
        item = Item.objects.select_for_update(of=("self",)).filter(run_downs=key).first()
        row = RunDown.objects.filter(pk=key, undone_at__isnull=True).first()
        if row is None or item is None or item.lifecycle != Lifecycle.RUN_DOWN:
            raise Refusal(fact("run_down_not_open"), field="run_down")
        item.lifecycle = Lifecycle.ACTIVE
        item.save(update_fields=["lifecycle", "updated_at"])
        row.undone_at, row.undone_by_name, row.undone_reason = timezone.now(), by, reason
        row.save()
        return row


def _checked(reason: str) -> str:
    """An item is one for all plants, so only who sees all of them decides."""
    if not current_scope().is_whole:
        raise Refusal(fact("run_down_needs_all_plants"))
    reason = reason.strip()
    if not reason or len(reason) > LONGEST_REASON:
        raise Refusal(fact("run_down_reason_missing", most=LONGEST_REASON), field="reason")
    return reason


def _refuse_only_cover(item_ids: Collection[int]) -> None:
    today = timezone.localdate()
    cover = Cover.objects.filter(grade__in=GRADES_KEPT)
    guarded = (
        cover.filter(item__in=item_ids)
        .filter(Q(position__drive__criticality=Criticality.VITAL) | Q(position__drive__lifting=True))
        .exclude(Q(position__in_use_until__lt=today) | Q(position__drive__in_use_until__lt=today))
    )
    others = (
        cover.filter(position__in=guarded.order_by().values("position"), item__lifecycle=Lifecycle.ACTIVE)
        .exclude(item__in=item_ids)
        .filter(Q(item__levels__on_hand__gt=0) | Q(item__policies__isnull=False))
    )
    served = set(others.order_by().values_list("position", flat=True))
    rows = guarded.order_by("item__stock_number", "position__tag").values_list(
        "position", "item__stock_number", "position__tag"
    )
    for position, item, tag in rows:
        if position not in served:
            raise Refusal(fact("run_down_only_cover", item=item, position=tag), field="item")

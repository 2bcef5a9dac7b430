"""What a reversed issue had used of a kit is reserved for the kit again, as far as the shelf holds it.

No row says which issue used which reservation. A job uses its reservations before anything else, so what its issues that
stand do not account for is what the reversed one had used.
"""

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.models import Sum

from inventory.catalogue.plant_practice import allowed_chain_joints
from inventory.models import Kit, KitState, MovementKind, Reservation, ReservationState, StockEntry
from inventory.models.stock import StockEntryQuerySet
from inventory.stores.ledger.refusals import ShelfMoved
from inventory.stores.ledger.shelf import LockedShelf

ENDED_OTHERWISE = (ReservationState.RELEASED, ReservationState.EXPIRED)


def hold_again(shelf: LockedShelf, issue: StockEntry, quantity: int, now: datetime) -> list[Reservation]:
    """For the pieces that are put back on the locked shelf; gives the lines that hold more than before."""
    if issue.kind != MovementKind.ISSUE or not issue.work_order:
        return []
    place = {"storeroom": shelf.storeroom, "condition": shelf.condition, "work_order": issue.work_order}
    lived = (ReservationState.OPEN, ReservationState.USED)
    rows = Reservation.objects.filter(item=shelf.item, state__in=lived, **place)
    lines = list(rows.select_related("item", "storeroom", "kit").order_by("-pk"))
    if not any(line.kit_id for line in lines):
        return []
    issues = StockEntry.objects.issues().filter(item__in=[issue.item_id, shelf.item.pk], **place)
    left, held = min(quantity, _unaccounted(lines, issues, quantity)), []
    for line in lines:
        part = min(left, _used(line))
        left -= max(part, 0)
        if part > 0 and line.kit is not None and _hold_line(shelf, line, line.kit, part, now):
            held.append(line)
    return held


def _used(line: Reservation) -> int:
    return line.quantity - line.open_quantity - line.short_quantity


def _unaccounted(lines: Sequence[Reservation], issues: StockEntryQuerySet, quantity: int) -> int:
    """What was used of the lines beyond the issues that stand without the reversed quantity."""
    since = issues.filter(recorded_at__gte=min(line.created_at for line in lines)).not_reversed()
    out = -int(since.aggregate(total=Sum("net", default=0))["total"])
    return sum(map(_used, lines)) - (out - quantity)


def _hold_line(shelf: LockedShelf, line: Reservation, kit: Kit, quantity: int, now: datetime) -> bool:
    part = shelf.can_hold_again(line, quantity, allowed_chain_joints() if shelf.is_in_links else 0)
    if not part or not _is_alive_again(kit, now):
        return False
    as_read = Reservation.objects.filter(pk=line.pk, state=line.state, open_quantity=line.open_quantity)
    line.open_quantity, line.state = line.open_quantity + part, ReservationState.OPEN
    shelf.reserved += part
    if as_read.update(open_quantity=line.open_quantity, state=line.state, updated_at=now) != 1:
        raise ShelfMoved(f"Reservation {line.pk} changed under its lock: nothing was booked.")
    return True


def _is_alive_again(kit: Kit, now: datetime) -> bool:
    """Whether the kit is not ended, or ended by being used up; then it is open again, unless its job has another one."""
    current = Kit.objects.select_for_update().get(pk=kit.pk)
    if current.state in (KitState.OPEN, KitState.STAGED):
        return True
    # What ended the kit changed its lines at the same moment: a kit that was taken apart stays so.
    last = current.lines.filter(updated_at__gte=current.updated_at)
    if last.filter(state__in=ENDED_OTHERWISE, short_quantity=0).exists():
        return False
    state = KitState.STAGED if current.staged_at else KitState.OPEN
    try:
        with transaction.atomic():
            Kit.objects.filter(pk=kit.pk).update(state=state, updated_at=now)
    except IntegrityError:
        return False
    return True

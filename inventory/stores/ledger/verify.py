"""Rules of the ledger's rows beyond the balances: legs, reversals, references, counts, reservations."""

from collections.abc import Iterator
from typing import Any

from django.db.models import Count, Exists, F, Max, Min, OuterRef, Q, QuerySet, Sum

from inventory.facts import Fact
from inventory.models import (
    CountTask,
    Item,
    Kit,
    Merge,
    MergeLine,
    Reservation,
    ReservationState,
    StockEntry,
    StockLevel,
)
from inventory.stores.ledger.replay import PLACE, difference, replay


def verify(item: Item | None = None) -> tuple[Fact, ...]:
    """Every difference of the replay, and every broken rule that no balance shows."""
    entries: QuerySet[Any] = StockEntry.objects.order_by("pk")
    reservations: QuerySet[Any] = Reservation.objects.order_by("pk")
    levels: QuerySet[Any] = StockLevel.objects.order_by("pk")
    tasks: QuerySet[Any] = CountTask.objects.order_by("pk")
    if item is not None:
        entries, reservations, levels, tasks = (
            rows.filter(item=item) for rows in (entries, reservations, levels, tasks)
        )
    return (
        *replay(item),
        *_transfers(entries),
        *_reversals(entries),
        *_references(entries),
        *_counts(entries, tasks),
        *_unsigned(entries),
        *_levels(levels),
        *_reservations(reservations),
    )


def _at(code: str, entry: Any, booked: int, found: int, **more: Any) -> Fact:
    return difference(code, _place_of(entry), booked=booked, found=found, entry=entry.pk, **more)


def _place_of(row: Any) -> tuple[str, str, str]:
    return row.item.stock_number, row.storeroom.code, row.condition


def _transfers(entries: QuerySet[Any]) -> Iterator[Fact]:
    """A transfer, and the return and scrap of a worn part, has two legs, and two more for each reversal, of one item, with the sum zero.

    Those of a merge are of two.
    """
    ways = entries.filter(transfer__isnull=False).order_by().values("transfer")
    ways = ways.annotate(
        legs=Count("pk", filter=Q(reverses__isnull=True)),
        back=Count("pk", filter=Q(reverses__isnull=False)),
        back_out=Count("pk", filter=Q(reverses__isnull=False, change__lt=0)),
        total=Sum("change"),
        first=Min("pk"),
        item_least=Min("item_id"),
        item_most=Max("item_id"),
    )
    paired = Q(back=F("back_out") * 2)
    of_merge = Exists(MergeLine.objects.filter(transfer=OuterRef("transfer")))
    sound = Q(legs=2) & paired & Q(total=0) & (Q(item_least=F("item_most")) | Q(of_merge))
    for way in ways.exclude(sound).order_by("first"):
        entry = StockEntry.objects.with_places().get(pk=way["first"])
        if way["legs"] != 2:
            yield _at("transfer_legs_differ", entry, 2, way["legs"])
        elif way["back"] != 2 * way["back_out"]:
            yield _at("reversed_transfer_legs_differ", entry, 2 * way["back_out"], way["back"])
        elif way["total"]:
            yield _at("transfer_sum_not_zero", entry, 0, way["total"])
        else:
            yield _at("transfer_items_differ", entry, way["item_least"], way["item_most"])


def _reversals(entries: QuerySet[Any]) -> Iterator[Fact]:
    """Reversals do the opposite of their entry, at the same place, and together no more than it did.

    What was booked under a number that was merged then is reversed under the one that goes on.
    """
    back = entries.filter(reverses__isnull=False)
    opposite = Q(change__lt=0, reverses__change__gt=0) | Q(change__gt=0, reverses__change__lt=0)
    merged = Merge.objects.filter(item=OuterRef("reverses__item"), merged_at__lte=OuterRef("recorded_at"))
    same = (Q(item=F("reverses__item")) | Exists(merged)) & Q(
        storeroom=F("reverses__storeroom"),
        condition=F("reverses__condition"),
        kind=F("reverses__kind"),
    )
    sound = opposite & same & Q(reverses__reverses__isnull=True)
    for entry in back.exclude(sound).select_related("item", "storeroom", "reverses"):
        yield _at("reversal_differs", entry, -entry.reverses.change, entry.change)
    whole: Any = entries.filter(reverses__isnull=True)
    for entry in (
        whole.with_net().filter(Q(change__gt=0, net__lt=0) | Q(change__lt=0, net__gt=0)).with_places()
    ):
        yield _at("reversed_more_than_booked", entry, -entry.change, entry.net - entry.change)


def _references(entries: QuerySet[Any]) -> Iterator[Fact]:
    known = entries.exclude(reference="").order_by().values("reference", "storeroom")
    for row in known.annotate(times=Count("pk"), first=Min("pk")).filter(times__gt=1):
        entry = StockEntry.objects.with_places().get(pk=row["first"])
        yield _at("reference_booked_more_than_once", entry, 1, row["times"], reference=row["reference"])


def _counts(entries: QuerySet[Any], tasks: QuerySet[Any]) -> Iterator[Fact]:
    """A count changes the book by counted less booked, so by no more than was counted."""
    counts = entries.filter(kind="count", reverses__isnull=True)
    for entry in counts.filter(change__gt=F("counted")).select_related("item", "storeroom"):
        yield _at("count_change_differs", entry, entry.counted, entry.change)
    done = tasks.filter(entry__isnull=False).select_related("item", "storeroom", "entry")
    for task in done.exclude(entry__change=F("counted") - F("booked")):
        yield _at("counted_shelf_change_differs", task.entry, task.counted - task.booked, task.entry.change)


def _unsigned(entries: QuerySet[Any]) -> Iterator[Fact]:
    for entry in entries.filter(recorded_by_name="").select_related("item", "storeroom"):
        yield _at("entry_without_name", entry, 1, 0)


def _levels(levels: QuerySet[Any]) -> Iterator[Fact]:
    wrong = levels.filter(Q(on_hand__lt=0) | Q(reserved__lt=0) | Q(reserved__gt=F("on_hand")))
    for *place, reserved, on_hand in wrong.values_list(*PLACE, "reserved", "on_hand"):
        yield difference("reserved_not_covered", place, booked=reserved, found=on_hand)


def _reservations(reservations: QuerySet[Any]) -> Iterator[Fact]:
    """Open and short quantity never exceed the reserved one; an ended reservation or kit has no open quantity."""
    over = reservations.annotate(kept=F("open_quantity") + F("short_quantity")).filter(kept__gt=F("quantity"))
    for reservation in over.select_related("item", "storeroom"):
        yield _of_reservation("reservation_exceeded", reservation, reservation.quantity, reservation.kept)
    ended = reservations.exclude(state=ReservationState.OPEN).filter(open_quantity__gt=0)
    for reservation in ended.select_related("item", "storeroom"):
        yield _of_reservation("ended_reservation_open", reservation, 0, reservation.open_quantity)
    alive = Kit.objects.alive().values("pk")
    lone = reservations.filter(kit__isnull=False, state=ReservationState.OPEN).exclude(kit__in=alive)
    for reservation in lone.select_related("item", "storeroom"):
        yield _of_reservation("reservation_of_ended_kit_open", reservation, 0, reservation.open_quantity)


def _of_reservation(code: str, reservation: Any, booked: int, found: int) -> Fact:
    names = {"reservation": reservation.pk, "work_order": reservation.work_order}
    return difference(code, _place_of(reservation), booked=booked, found=found, **names)

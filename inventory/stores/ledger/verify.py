"""Rules of the ledger's rows beyond the balances: legs, reversals, references, counts, reservations."""

from collections.abc import Iterator
from typing import Any

from django.db.models import Count, F, Max, Min, Q, QuerySet, Sum

from inventory.models import CountTask, Item, Kit, Reservation, ReservationState, StockEntry, StockLevel
from inventory.stores.ledger.replay import PLACE, Difference, replay


def verify(item: Item | None = None) -> tuple[Difference, ...]:
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


def _at(of: str, entry: Any, booked: int, found: int) -> Difference:
    return Difference(
        of, entry.item.stock_number, entry.storeroom.code, entry.condition, booked, found, entry.pk
    )


def _transfers(entries: QuerySet[Any]) -> Iterator[Difference]:
    """A transfer has two legs, or four once it is reversed, of one item, with the sum zero."""
    ways = entries.filter(transfer__isnull=False).order_by().values("transfer")
    ways = ways.annotate(
        legs=Count("pk", filter=Q(reverses__isnull=True)),
        back=Count("pk", filter=Q(reverses__isnull=False)),
        total=Sum("change"),
        first=Min("pk"),
        item_least=Min("item_id"),
        item_most=Max("item_id"),
    )
    sound = Q(legs=2) & (Q(back=0) | Q(back=2)) & Q(total=0) & Q(item_least=F("item_most"))
    for way in ways.exclude(sound).order_by("first"):
        entry = StockEntry.objects.with_places().get(pk=way["first"])
        if way["legs"] != 2:
            yield _at("legs of the transfer", entry, 2, way["legs"])
        elif way["back"] not in (0, 2):
            yield _at("legs of the reversed transfer", entry, 2, way["back"])
        elif way["total"]:
            yield _at("sum of the transfer", entry, 0, way["total"])
        else:
            yield _at("items of the transfer", entry, way["item_least"], way["item_most"])


def _reversals(entries: QuerySet[Any]) -> Iterator[Difference]:
    """A reversal does the opposite of its entry, at the same place, once."""
    back = entries.filter(reverses__isnull=False)
    opposite = Q(change=-F("reverses__change"))
    same = Q(
        item=F("reverses__item"),
        storeroom=F("reverses__storeroom"),
        condition=F("reverses__condition"),
        kind=F("reverses__kind"),
    )
    sound = opposite & same & Q(reverses__reverses__isnull=True)
    for entry in back.exclude(sound).select_related("item", "storeroom", "reverses"):
        yield _at("reversal", entry, -entry.reverses.change, entry.change)
    for row in back.order_by().values("reverses").annotate(times=Count("pk")).filter(times__gt=1):
        entry = StockEntry.objects.with_places().get(pk=row["reverses"])
        yield _at("times it was reversed", entry, 1, row["times"])


def _references(entries: QuerySet[Any]) -> Iterator[Difference]:
    known = entries.exclude(reference="").order_by().values("reference", "storeroom")
    for row in known.annotate(times=Count("pk"), first=Min("pk")).filter(times__gt=1):
        entry = StockEntry.objects.with_places().get(pk=row["first"])
        yield _at(f"entries of reference {row['reference']}", entry, 1, row["times"])


def _counts(entries: QuerySet[Any], tasks: QuerySet[Any]) -> Iterator[Difference]:
    """A count changes the book by counted less booked, so by no more than was counted."""
    counts = entries.filter(kind="count", reverses__isnull=True)
    for entry in counts.filter(change__gt=F("counted")).select_related("item", "storeroom"):
        yield _at("change of the count", entry, entry.counted, entry.change)
    done = tasks.filter(entry__isnull=False).select_related("item", "storeroom", "entry")
    for task in done.exclude(entry__change=F("counted") - F("booked")):
        yield _at("change of the counted shelf", task.entry, task.counted - task.booked, task.entry.change)


def _unsigned(entries: QuerySet[Any]) -> Iterator[Difference]:
    for entry in entries.filter(recorded_by_name="").select_related("item", "storeroom"):
        yield _at("names of who booked it", entry, 1, 0)


def _levels(levels: QuerySet[Any]) -> Iterator[Difference]:
    wrong = levels.filter(Q(on_hand__lt=0) | Q(reserved__lt=0) | Q(reserved__gt=F("on_hand")))
    for number, room, condition, reserved, on_hand in wrong.values_list(*PLACE, "reserved", "on_hand"):
        yield Difference("on_hand above reserved", number, room, condition, reserved, on_hand)


def _reservations(reservations: QuerySet[Any]) -> Iterator[Difference]:
    """Open and short quantity never exceed the reserved one; an ended reservation or kit has no open quantity."""
    over = reservations.annotate(kept=F("open_quantity") + F("short_quantity")).filter(kept__gt=F("quantity"))
    for reservation in over.select_related("item", "storeroom"):
        yield _of_reservation(
            "open and short quantity of reservation", reservation, reservation.quantity, reservation.kept
        )
    ended = reservations.exclude(state=ReservationState.OPEN).filter(open_quantity__gt=0)
    for reservation in ended.select_related("item", "storeroom"):
        yield _of_reservation("open quantity of ended reservation", reservation, 0, reservation.open_quantity)
    alive = Kit.objects.alive().values("pk")
    lone = reservations.filter(kit__isnull=False, state=ReservationState.OPEN).exclude(kit__in=alive)
    for reservation in lone.select_related("item", "storeroom"):
        yield _of_reservation(
            "open quantity in an ended kit of reservation", reservation, 0, reservation.open_quantity
        )


def _of_reservation(of: str, reservation: Any, booked: int, found: int) -> Difference:
    place = (reservation.item.stock_number, reservation.storeroom.code, reservation.condition)
    return Difference(f"{of} {reservation.pk} for {reservation.work_order}", *place, booked, found)

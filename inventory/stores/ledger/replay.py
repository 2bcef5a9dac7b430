"""Adds up the ledger again and finds where the stock levels differ from it."""

from collections.abc import Sequence
from typing import Any

from django.db.models import Exists, F, IntegerField, OuterRef, Q, QuerySet, Subquery, Sum, Window
from django.db.models.functions import Coalesce

from inventory.facts import Fact, fact
from inventory.models import Item, Reservation, StockEntry, StockLevel, StockPiece, Storeroom, Unit


def replay(item: Item | None = None) -> tuple[Fact, ...]:
    """Every difference between the sum of the entries and the stock levels; there should be none.

    Each comparison is one statement, so that movements booked meanwhile do not look like differences.
    """
    levels, entries = StockLevel.objects.order_by("pk"), StockEntry.objects.order_by("pk")
    if item is not None:
        levels, entries = levels.filter(item=item), entries.filter(item=item)
    return (
        *_wrong_on_hand(levels),
        *_without_level(entries),
        *_wrong_reserved(levels),
        *_wrong_pieces(levels),
        *_wrong_balances(entries),
    )


def balance_at(item: Item, storeroom: Storeroom, condition: str, at_entry_id: int) -> int:
    """The balance there just after that entry of the ledger, which may be of another item."""
    last = (
        StockEntry.objects.filter(item=item, storeroom=storeroom, condition=condition, pk__lte=at_entry_id)
        .order_by("-pk")
        .values_list("balance_after", flat=True)
        .first()
    )
    return last or 0


PLACE = ("item__stock_number", "storeroom__code", "condition")
SAME_PLACE = {
    "item": OuterRef("item"),
    "storeroom": OuterRef("storeroom"),
    "condition": OuterRef("condition"),
}


def _sum_here(rows: QuerySet[Any], column: str) -> Coalesce:
    total = rows.order_by().annotate(total=Window(Sum(column))).values("total")[:1]
    return Coalesce(Subquery(total, output_field=IntegerField()), 0)


def difference(code: str, place: Sequence[str], *, booked: int, found: int, **more: Any) -> Fact:
    """One number that is not what the ledger says; `place` is stock number, storeroom and condition."""
    item, storeroom, condition = place
    where = {"item": item, "storeroom": storeroom, "condition": condition}
    return fact(code, **where, booked=booked, found=found, **more)


def _compare(levels: QuerySet[Any], code: str, column: str) -> list[Fact]:
    wrong = levels.exclude(booked=F(column)).values_list(*PLACE, "booked", column)
    return [difference(code, place, booked=booked, found=found) for *place, booked, found in wrong]


def _wrong_on_hand(levels: QuerySet[StockLevel]) -> list[Fact]:
    booked = _sum_here(StockEntry.objects.filter(**SAME_PLACE), "change")
    return _compare(levels.annotate(booked=booked), "on_hand_differs", "on_hand")


def _wrong_reserved(levels: QuerySet[StockLevel]) -> list[Fact]:
    booked = _sum_here(Reservation.objects.open().filter(**SAME_PLACE), "open_quantity")
    return _compare(levels.annotate(booked=booked), "reserved_differs", "reserved")


def _wrong_pieces(levels: QuerySet[StockLevel]) -> list[Fact]:
    """Compared with the level's on_hand, which has been compared with the entries before."""
    in_pieces = _sum_here(StockPiece.objects.filter(level=OuterRef("pk")), "links")
    chains = levels.filter(item__unit=Unit.LINK).annotate(booked=F("on_hand"), in_pieces=in_pieces)
    return _compare(chains, "pieces_differ", "in_pieces")


def _without_level(entries: QuerySet[StockEntry]) -> list[Fact]:
    lost = entries.filter(~Exists(StockLevel.objects.filter(**SAME_PLACE)))
    places = lost.order_by(*PLACE).values_list(*PLACE).annotate(booked=Sum("change"))
    return [
        difference("on_hand_differs", place, booked=booked, found=0) for *place, booked in places if booked
    ]


def _wrong_balances(entries: QuerySet[StockEntry]) -> list[Fact]:
    running = Window(
        Sum("change"), partition_by=[F("item_id"), F("storeroom_id"), F("condition")], order_by=F("id").asc()
    )
    wrong = entries.annotate(running=running).filter(~Q(running=F("balance_after")))
    rows = wrong.values_list(*PLACE, "running", "balance_after", "pk")
    return [
        difference("balance_after_differs", place, booked=booked, found=found, entry=entry)
        for *place, booked, found, entry in rows
    ]

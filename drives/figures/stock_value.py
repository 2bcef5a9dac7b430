"""What lies in stock is worth, what went out of it, and what was found otherwise than the books say; all at today's price."""

from collections.abc import Collection, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Q, QuerySet, Sum
from django.utils import timezone

from drives.figures.figure import ZERO, Figure, FigureRow, valued, worth
from drives.models import RecordedVerdict
from drives.substitutes.false_fits import FalseFit, false_fits
from inventory.facts import Fact, fact
from inventory.models import Item, MovementKind, ReasonCode, StockEntry, StockLevel

A_YEAR = timedelta(days=365.25)
MOST_CASES = 2000
WORN = Q(reason_code=ReasonCode.WORN)
"""A worn part comes back and is scrapped in one act: it was issued before, and is no write-off."""


def stock_value(storerooms: Collection[int] | None = None) -> Figure:
    """On hand in any condition; two queries."""
    rows = _in(StockLevel.objects.filter(on_hand__gt=0), storerooms)
    return valued(fact("figure_stock_value"), _rows(_summed(rows, "on_hand")))


def issued(since: datetime, until: datetime, storerooms: Collection[int] | None = None) -> Figure:
    """Issued less what came back unused, and how often the stock is turned over in a year; four queries."""
    entries = _between(since, until, storerooms).filter(
        Q(kind=MovementKind.ISSUE) | Q(kind=MovementKind.RETURN) & ~WORN
    )
    found = valued(fact("figure_issued"), _rows(_summed(entries, "change"), sign=-1))
    return replace(found, notes=tuple(_turns(found, stock_value(storerooms), until - since)))


def written_off(since: datetime, until: datetime, storerooms: Collection[int] | None = None) -> Figure:
    """Two queries."""
    entries = _between(since, until, storerooms).filter(~WORN, kind=MovementKind.SCRAP)
    return valued(fact("figure_written_off"), _rows(_summed(entries, "change"), sign=-1))


def count_corrections(since: datetime, until: datetime, storerooms: Collection[int] | None = None) -> Figure:
    """Counts that found another quantity than the books, out of all; one query."""
    counts = _between(since, until, storerooms).filter(kind=MovementKind.COUNT).not_reversed()
    every = list(counts.select_related("item", "storeroom").order_by("-occurred_at", "-pk"))
    rows = [
        FigureRow(
            reasons=(fact("count_found", counted=one.counted, change=one.net),),
            item=one.item.stock_number,
            storeroom=one.storeroom.code,
            pieces=one.net,
            value=worth(one.item, one.net),
            currency=one.item.currency,
            on=timezone.localdate(one.occurred_at),
        )
        for one in every
        if one.net
    ]
    return valued(fact("figure_count_corrections"), rows, of=len(every))


def misfits(since: datetime, until: datetime, storerooms: Collection[int] | None = None) -> Figure:
    """Issues on a verdict of which something came back as not fitting, out of all of them; five queries."""
    verdicts = _in(RecordedVerdict.objects.all(), storerooms, "entry__storeroom")
    found = false_fits(verdicts, begin=since, end=until, most_cases=MOST_CASES)
    # An issue is one case, however many pieces of it came back.
    rows = {case.question.issue_id: _misfit(case) for case in reversed(found.cases)}
    meaning = fact("figure_false_fits")
    return Figure(
        name="false_fits",
        meaning=meaning,
        count=found.overall.came_back,
        of=found.overall.issued,
        rows=tuple(reversed(rows.values())),
    )


def _misfit(case: FalseFit) -> FigureRow:
    issue = case.question.issue
    assert issue is not None
    return FigureRow(
        reasons=(fact("did_not_fit_for", aspect=case.question.aspect or None),),
        item=case.question.item.stock_number,
        position=case.verdict.position.tag,
        work_order=issue.work_order,
        pieces=-issue.change,
        on=timezone.localdate(issue.occurred_at),
    )


def value_changes(
    since: datetime, storerooms: Collection[int] | None = None
) -> dict[str, dict[str, Decimal]]:
    """By currency, what the movements since then are worth by kind; one query."""
    rows = _in(StockEntry.objects.filter(occurred_at__gte=since), storerooms)
    found: dict[str, dict[str, Decimal]] = {}
    for kind, currency, price, change in _by_price(rows, "change", "kind"):
        if change:
            mine = found.setdefault(currency, {})
            mine[kind] = mine.get(kind, ZERO) + price * change
    return found


def value_by_currency(storerooms: Collection[int] | None = None) -> dict[str, Decimal]:
    """The values of `stock_value` without its rows; one query."""
    rows = _in(StockLevel.objects.filter(on_hand__gt=0), storerooms)
    found: dict[str, Decimal] = {}
    for currency, price, pieces in _by_price(rows, "on_hand"):
        found[currency] = found.get(currency, ZERO) + price * pieces
    return found


def _by_price(rows: Any, column: str, *names: str) -> Any:
    """Sums of what costs alike: whole pieces, so that no cent is lost in the database."""
    priced = rows.filter(item__unit_cost__isnull=False).order_by()
    return priced.values_list(*names, "item__currency", "item__unit_cost").annotate(Sum(column))


def _in(rows: "QuerySet[Any]", storerooms: Collection[int] | None, path: str = "storeroom") -> Any:
    return rows if storerooms is None else rows.filter(**{f"{path}__in": storerooms})


def _between(since: datetime, until: datetime, storerooms: Collection[int] | None) -> Any:
    return _in(StockEntry.objects.filter(occurred_at__gte=since, occurred_at__lt=until), storerooms)


def _summed(rows: Any, column: str) -> list[tuple[int, str, int]]:
    return list(rows.order_by().values_list("item", "storeroom__code").annotate(Sum(column)))


def _rows(sums: list[tuple[int, str, int]], *, sign: int = 1) -> Iterator[FigureRow]:
    items = Item.objects.in_bulk({item for item, _, _ in sums})
    for pk, room, total in sums:
        item, pieces = items[pk], sign * total
        if pieces:
            yield FigureRow(
                reasons=(_price(item),),
                item=item.stock_number,
                storeroom=room,
                pieces=pieces,
                value=worth(item, pieces),
                currency=item.currency,
            )


def _price(item: Item) -> Fact:
    if item.unit_cost is None:
        return fact("no_price_recorded")
    return fact("costs_each", amount=str(item.unit_cost), currency=item.currency)


def _turns(issued: Figure, stock: Figure, span: timedelta) -> Iterator[Fact]:
    """In a year, at what lies in stock today; nothing where no price is known."""
    lying = {one.currency: one.value for one in stock.values}
    for one in issued.values:
        if lying.get(one.currency, ZERO) > 0:
            share = float(one.value / lying[one.currency])
            yield fact("stock_turns", turns=share * A_YEAR / span)

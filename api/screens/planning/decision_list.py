"""The recommendations to decide, worst first, with their totals."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.core.paginator import Page, Paginator
from django.db.models import Sum
from django.utils import timezone

from api.edge.scope import visible_to_caller
from api.screens.planning.comparison import PolicyFigures, shortages_avoided, then_of, today_of, why
from api.screens.planning.list_filters import (
    BEGIN,
    CHANGES,
    DECIDED,
    END,
    LESS,
    MISSING_DATA,
    MORE,
    ListFilters,
)
from api.wire.recommendations import redact, without_evidence
from inventory.models import Importance, Recommendation, RecommendationState, StockLevel
from inventory.models.stocking import RecommendationQuerySet
from inventory.planning.policy_inputs import PolicyLevels, levels_from_json
from inventory.planning.stock_position import StockPosition, load_stock_positions

PAGE_SIZE = 50
WORST_FIRST = (Importance.VITAL, Importance.ESSENTIAL, Importance.UNKNOWN, Importance.DESIRABLE)
"""A part without a class may be vital, so it comes before a desirable one."""


@dataclass(frozen=True, slots=True)
class DecisionSummary:
    """As much of a recommendation as its place in the list and the totals need."""

    pk: int
    importance: str
    avoided: float
    currency: str
    tied_up_more: Decimal | None
    pieces_per_job: float | None
    change: str = ""

    def is_within(self, limit: Decimal) -> bool:
        """What has no price may cost anything."""
        return self.tied_up_more is not None and self.tied_up_more <= limit


@dataclass(frozen=True)
class DecisionRow:
    recommendation: Recommendation
    today: PolicyFigures
    then: PolicyFigures
    why: str
    stock: StockPosition
    """Of this number in this storeroom."""
    tied_up_more: Decimal | None = None


@dataclass(frozen=True)
class DecisionTotals:
    """Of all pages; money by currency."""

    number: int
    vital: int
    tied_up_more: tuple[tuple[str, Decimal], ...]
    freed: tuple[tuple[str, Decimal], ...]
    without_price: int


@dataclass(frozen=True)
class DecisionGroup:
    """What changes in the same direction, of all that pass the other filters."""

    change: str
    label: str
    totals: DecisionTotals


@dataclass(frozen=True)
class DecisionList:
    totals: DecisionTotals
    groups: tuple[DecisionGroup, ...]
    page: Page[DecisionSummary]
    rows: tuple[DecisionRow, ...]


def decision_list(filters: ListFilters) -> DecisionList:
    """Ten queries, however many there are."""
    every = list(summaries_in(chosen(filters)))
    summaries = _sorted(every, filters)
    page = Paginator(summaries, PAGE_SIZE).get_page(filters.page)
    return DecisionList(totals_of(summaries), tuple(_groups(every)), page, rows_of(list(page)))


def summaries_of(filters: ListFilters) -> list[DecisionSummary]:
    """The worst first."""
    return _sorted(summaries_in(chosen(filters)), filters)


def _sorted(summaries: Iterable[DecisionSummary], filters: ListFilters) -> list[DecisionSummary]:
    limit = filters.limit
    found = (one for one in summaries if limit is None or one.is_within(limit))
    return sorted((one for one in found if filters.change in ("", one.change)), key=_worst_first)


def _groups(summaries: list[DecisionSummary]) -> Iterator[DecisionGroup]:
    for change, label in CHANGES.items():
        mine = [one for one in summaries if one.change == change]
        if mine:
            yield DecisionGroup(change, str(label), totals_of(mine))


def chosen(filters: ListFilters) -> RecommendationQuerySet:
    found = _of_kind(filters.show)
    if filters.storeroom:
        found = found.in_storeroom(filters.storeroom)
    if filters.importance:
        found = found.filter(importance=filters.importance)
    return found.filter(model=filters.model) if filters.model else found


def _of_kind(show: str) -> RecommendationQuerySet:
    records = visible_to_caller(Recommendation.objects.all())
    if show == MISSING_DATA:
        return records.filter(state=RecommendationState.OPEN, is_answered=False)
    if show == DECIDED:
        decided = (RecommendationState.ACCEPTED, RecommendationState.AMENDED, RecommendationState.DECLINED)
        return records.filter(state__in=decided)
    return records.waiting()


def summaries_in(records: RecommendationQuerySet) -> Iterable[DecisionSummary]:
    """Two queries. Where none is to be kept, what is recommended ties up nothing, and today what lies there."""
    names = ("importance", "rate_per_year", "expected_stockouts_per_year", "currency", "today")
    levels = ("is_answered", "stocked", "reorder_point", "order_up_to")
    figures = ("evidence__figures__tied_up", "evidence__figures__pieces_per_job")
    keys = ("item_id", "storeroom_id", "item__unit_cost")
    values = list(records.order_by().values_list("pk", *keys, *names, *figures, *levels))
    on_hand = _on_hand({row[1] for row in values})
    for (
        pk,
        item,
        room,
        price,
        importance,
        rate,
        short,
        currency,
        today,
        tied_up,
        pieces,
        is_answered,
        *then,
    ) in values:
        avoided = shortages_avoided(rate, today, expected_stockouts_per_year=short, pieces_per_job=pieces)
        change = _change(levels_from_json(today), PolicyLevels(*then)) if is_answered else ""
        if change == END and tied_up is None and price is not None:
            more: Decimal | None = -price * on_hand.get((item, room), 0)
        else:
            more = _difference(tied_up, today)
        yield DecisionSummary(pk, importance, avoided, currency, more, pieces, change)


def _on_hand(items: set[int]) -> dict[tuple[int, int], int]:
    rows = (
        StockLevel.objects.filter(item__in=items, on_hand__gt=0).order_by().values_list("item", "storeroom")
    )
    return {(item, room): pieces for item, room, pieces in rows.annotate(here=Sum("on_hand"))}


def _change(today: PolicyLevels | None, then: PolicyLevels) -> str:
    if not then.stocked:
        return END
    if today is None or not today.stocked:
        return BEGIN
    is_more = (then.order_up_to, then.reorder_point) > (today.order_up_to, today.reorder_point)
    return MORE if is_more else LESS


def _difference(tied_up: str | None, today: dict[str, str | None]) -> Decimal | None:
    if tied_up is None or (today and today.get("tied_up") is None):
        return None
    return Decimal(tied_up) - Decimal(today.get("tied_up") or 0)


def _worst_first(summary: DecisionSummary) -> tuple[int, float, int]:
    return WORST_FIRST.index(Importance(summary.importance)), -summary.avoided, summary.pk


def totals_of(summaries: list[DecisionSummary]) -> DecisionTotals:
    more: dict[str, Decimal] = defaultdict(Decimal)
    less: dict[str, Decimal] = defaultdict(Decimal)
    for summary in summaries:
        change = summary.tied_up_more or Decimal(0)
        (more if change > 0 else less)[summary.currency] += abs(change)
    return DecisionTotals(
        number=len(summaries),
        vital=sum(summary.importance == Importance.VITAL for summary in summaries),
        tied_up_more=_sums(more),
        freed=_sums(less),
        without_price=sum(summary.tied_up_more is None for summary in summaries),
    )


def _sums(by_currency: dict[str, Decimal]) -> tuple[tuple[str, Decimal], ...]:
    return tuple((currency, total) for currency, total in sorted(by_currency.items()) if total)


def rows_of(summaries: list[DecisionSummary]) -> tuple[DecisionRow, ...]:
    rows = without_evidence(Recommendation.objects.with_places())
    found = rows.in_bulk([summary.pk for summary in summaries])
    redact(list(found.values()))
    stock = load_stock_positions(timezone.localdate(), {one.item_id for one in found.values()})
    return tuple(
        _row(one, summary, stock.of([one.item_id], [one.storeroom_id]))
        for summary in summaries
        # One that was replaced a moment ago is left out.
        if (one := found.get(summary.pk))
    )


def _row(recommendation: Recommendation, summary: DecisionSummary, stock: StockPosition) -> DecisionRow:
    then = then_of(recommendation, {"pieces_per_job": summary.pieces_per_job})
    today = today_of(recommendation)
    return DecisionRow(recommendation, today, then, why(recommendation), stock, summary.tied_up_more)

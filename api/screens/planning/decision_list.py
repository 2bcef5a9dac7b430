"""The recommendations to decide, worst first, with their totals."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.core.paginator import Page, Paginator

from api.edge.scope import visible_to_caller
from api.screens.planning.comparison import PolicyFigures, shortages_avoided, then_of, today_of, why
from api.screens.planning.list_filters import DECIDED, MISSING_DATA, ListFilters
from api.wire.recommendations import redact, without_evidence
from inventory.models import Importance, Recommendation, RecommendationState
from inventory.models.stocking import RecommendationQuerySet

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


@dataclass(frozen=True)
class DecisionRow:
    recommendation: Recommendation
    today: PolicyFigures
    then: PolicyFigures
    why: str


@dataclass(frozen=True)
class DecisionTotals:
    """Of all pages; money by currency."""

    number: int
    vital: int
    tied_up_more: tuple[tuple[str, Decimal], ...]
    freed: tuple[tuple[str, Decimal], ...]
    without_price: int


@dataclass(frozen=True)
class DecisionList:
    totals: DecisionTotals
    page: Page[DecisionSummary]
    rows: tuple[DecisionRow, ...]


def decision_list(filters: ListFilters) -> DecisionList:
    """Two queries, however many there are."""
    summaries = sorted(_summaries(chosen(filters)), key=_worst_first)
    page = Paginator(summaries, PAGE_SIZE).get_page(filters.page)
    return DecisionList(_totals(summaries), page, _rows(list(page)))


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


def _summaries(records: RecommendationQuerySet) -> Iterable[DecisionSummary]:
    names = ("importance", "rate_per_year", "expected_stockouts_per_year", "currency", "today")
    figures = ("evidence__figures__tied_up", "evidence__figures__pieces_per_job")
    values = records.order_by().values_list("pk", *names, *figures)
    for pk, importance, rate, short, currency, today, tied_up, pieces in values:
        avoided = shortages_avoided(rate, today, expected_stockouts_per_year=short, pieces_per_job=pieces)
        yield DecisionSummary(pk, importance, avoided, currency, _difference(tied_up, today), pieces)


def _difference(tied_up: str | None, today: dict[str, str | None]) -> Decimal | None:
    if tied_up is None or (today and today.get("tied_up") is None):
        return None
    return Decimal(tied_up) - Decimal(today.get("tied_up") or 0)


def _worst_first(summary: DecisionSummary) -> tuple[int, float, int]:
    return WORST_FIRST.index(Importance(summary.importance)), -summary.avoided, summary.pk


def _totals(summaries: list[DecisionSummary]) -> DecisionTotals:
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


def _rows(summaries: list[DecisionSummary]) -> tuple[DecisionRow, ...]:
    rows = without_evidence(Recommendation.objects.with_places())
    found = rows.in_bulk([summary.pk for summary in summaries])
    redact(list(found.values()))
    return tuple(_row(found[summary.pk], summary) for summary in summaries)


def _row(recommendation: Recommendation, summary: DecisionSummary) -> DecisionRow:
    then = then_of(recommendation, {"pieces_per_job": summary.pieces_per_job})
    return DecisionRow(recommendation, today_of(recommendation), then, why(recommendation))

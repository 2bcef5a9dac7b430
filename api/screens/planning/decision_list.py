"""The recommendations that wait, worst first, with what they come to together."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.core.paginator import Page, Paginator

from api.edge.scope import visible_to_caller
from api.screens.planning.comparison import PolicyFigures, shortages_avoided, then_of, today_of, why
from api.screens.planning.list_filters import ListFilters
from api.wire.recommendations import redact, without_evidence
from inventory.models import Importance, Recommendation, RecommendationState
from inventory.models.stocking import RecommendationQuerySet

PAGE_SIZE = 50
WORST_FIRST = (Importance.VITAL, Importance.ESSENTIAL, Importance.UNKNOWN, Importance.DESIRABLE)
"""A part that nobody classed may be vital: it stands before one that was called desirable."""


@dataclass(frozen=True, slots=True)
class DecisionSummary:
    """As much of a recommendation as its place in the list and the sums need."""

    pk: int
    importance: str
    avoided: float
    currency: str
    tied_up_more: Decimal | None
    pieces_per_job: float | None


@dataclass(frozen=True)
class DecisionRow:
    """One line of the list."""

    recommendation: Recommendation
    today: PolicyFigures
    then: PolicyFigures
    why: str


@dataclass(frozen=True)
class DecisionTotals:
    """What all that waits comes to; money by currency."""

    waiting: int
    vital: int
    ties_up: tuple[tuple[str, Decimal], ...]
    sets_free: tuple[tuple[str, Decimal], ...]
    without_price: int


@dataclass(frozen=True)
class DecisionList:
    """One page of what waits; an address is empty where there is no such page."""

    totals: DecisionTotals
    page: Page[DecisionSummary]
    rows: tuple[DecisionRow, ...]
    previous_address: str
    next_address: str
    page_size: int = PAGE_SIZE


def decision_list(choice: ListFilters) -> DecisionList:
    """Two queries, however many wait."""
    briefs = sorted(_briefs(chosen(choice)), key=_worst_first)
    page = Paginator(briefs, PAGE_SIZE).get_page(choice.page)
    return DecisionList(
        _totals(briefs),
        page,
        _rows(list(page)),
        choice.address(page=page.previous_page_number()) if page.has_previous() else "",
        choice.address(page=page.next_page_number()) if page.has_next() else "",
    )


def chosen(choice: ListFilters) -> RecommendationQuerySet:
    found = _of_kind(choice.show)
    if choice.storeroom:
        found = found.in_storeroom(choice.storeroom)
    if choice.importance:
        found = found.filter(importance=choice.importance)
    return found.filter(model=choice.model) if choice.model else found


def _of_kind(show: str) -> RecommendationQuerySet:
    records = visible_to_caller(Recommendation.objects.all())
    if show == "unanswered":
        return records.filter(state=RecommendationState.OPEN, is_answered=False)
    if show == "decided":
        decided = (RecommendationState.ACCEPTED, RecommendationState.AMENDED, RecommendationState.DECLINED)
        return records.filter(state__in=decided)
    return records.waiting()


def _briefs(records: RecommendationQuerySet) -> Iterable[DecisionSummary]:
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


def _worst_first(brief: DecisionSummary) -> tuple[int, float, int]:
    return WORST_FIRST.index(Importance(brief.importance)), -brief.avoided, brief.pk


def _totals(briefs: list[DecisionSummary]) -> DecisionTotals:
    more: dict[str, Decimal] = defaultdict(Decimal)
    less: dict[str, Decimal] = defaultdict(Decimal)
    for brief in briefs:
        change = brief.tied_up_more or Decimal(0)
        (more if change > 0 else less)[brief.currency] += abs(change)
    return DecisionTotals(
        waiting=len(briefs),
        vital=sum(brief.importance == Importance.VITAL for brief in briefs),
        ties_up=_sums(more),
        sets_free=_sums(less),
        without_price=sum(brief.tied_up_more is None for brief in briefs),
    )


def _sums(by_currency: dict[str, Decimal]) -> tuple[tuple[str, Decimal], ...]:
    return tuple((currency, total) for currency, total in sorted(by_currency.items()) if total)


def _rows(briefs: list[DecisionSummary]) -> tuple[DecisionRow, ...]:
    rows = without_evidence(Recommendation.objects.with_places())
    found = rows.in_bulk([brief.pk for brief in briefs])
    redact(list(found.values()))
    return tuple(_row(found[brief.pk], brief) for brief in briefs)


def _row(recommendation: Recommendation, brief: DecisionSummary) -> DecisionRow:
    then = then_of(recommendation, {"pieces_per_job": brief.pieces_per_job})
    return DecisionRow(recommendation, today_of(recommendation), then, why(recommendation))

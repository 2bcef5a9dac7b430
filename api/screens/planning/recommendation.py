"""One recommendation down to its events: the levels, the decision, the evidence."""

from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from api.edge.auth import caller_name
from api.edge.csv_writing import csv_file
from api.edge.scope import visible_to_caller
from api.screens.acts import Done, SentForm, carry_out
from api.screens.charts.chart import Chart, file_of
from api.screens.page_filters import label_of
from api.screens.planning.comparison import then_of, today_of
from api.screens.planning.decision_form import decide
from api.screens.planning.demand_chart import demand_chart
from api.screens.planning.evidence import EvidencePage, evidence_page
from api.screens.planning.lead_time_chart import lead_time_chart
from api.screens.planning.life_chart import life_chart
from api.screens.planning.planning_tags import may_decide_of
from api.wire.recommendations import redacted
from api.wording.sentences import stored_sentences
from inventory.models import Recommendation, RecommendationState, StockPolicy
from inventory.planning.stock_position import load_stock_positions

COLUMNS = [
    "at",
    "item",
    "given",
    "position",
    "quantity",
    "result",
    "work_order",
    "source",
    "is_planned",
    "counts",
]

STATISTICS = frozenset(
    {
        *("wear_shown", "too_few_worn_out", "no_wear_distribution_fits", "no_age_effect_shown"),
        *("no_mechanism_recorded", "chances_cut_short", "lead_time_fixed", "lead_time_varies"),
    }
)
STATISTICS_BEGIN = ("prior_", "record_", "demand_", "spread_", "holds_", "estimates_")


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def recommendation(request: HttpRequest, key: int) -> HttpResponseBase:
    def act(request: HttpRequest, form: QueryDict) -> Done:
        said = decide(_record(key), form, by=caller_name(request))
        return Done(said, f"recommendation-reopen:{key}")

    record = _record(key)
    sent = carry_out(request, act, is_allowed=may_decide_of(request))
    if sent.is_done:
        return redirect("screens:recommendation", key)
    with timezone.override(ZoneInfo(record.storeroom.timezone)):
        context = _context(request, record, sent)
        page = render(request, "planning/recommendation.html", context, status=sent.status)
        return file_of(request, context) or page


@require_safe
@login_required
def events_file(request: HttpRequest, key: int) -> HttpResponseBase:
    """Its demand history as a file that no spreadsheet takes for a formula."""
    record = _record(key)
    evidence = evidence_page(record.evidence, timezone.localdate())
    rows = ([getattr(row, name) for name in COLUMNS] for row in evidence.demand)
    return csv_file(f"demand-history-{key}.csv", COLUMNS, rows)


def _record(key: int) -> Recommendation:
    record = visible_to_caller(Recommendation.objects.with_places()).filter(pk=key).first()
    if record is None:
        raise Http404
    return redacted(record)


def _context(request: HttpRequest, record: Recommendation, sent: SentForm) -> dict[str, object]:
    raw = record.evidence
    evidence = evidence_page(raw, timezone.localdate())
    today, then = today_of(record), then_of(record, raw.get("figures"))
    links = _links_per_job(raw)
    newest = Recommendation.objects.current().filter(item=record.item_id, storeroom=record.storeroom_id)
    return {
        "r": record,
        "reasons": stored_sentences([one for one in record.explanation if not _is_statistics(one)]),
        "statistics": stored_sentences([one for one in record.explanation if _is_statistics(one)]),
        "since_last": stored_sentences(record.since_last),
        "is_open": record.state == RecommendationState.OPEN,
        "is_superseded": record.state == RecommendationState.SUPERSEDED,
        "today": today,
        "stock": load_stock_positions(timezone.localdate(), {record.item_id}).of(
            [record.item_id], [record.storeroom_id]
        ),
        "then": then,
        "evidence": evidence,
        "policy": StockPolicy.objects.filter(item=record.item_id, storeroom=record.storeroom_id).first(),
        "newest": newest.exclude(pk=record.pk).values_list("pk", flat=True).first(),
        "sent": sent,
        # A template needs underscores for dashes.
        "fault_of": {name.replace("-", "_"): fault for name, fault in sent.at_fields.items()},
        "may_decide": may_decide_of(request),
        "demand": _demand_chart(evidence, record),
        "life": life_chart(evidence.usable_lives, raw.get("fit"), is_used=record.model == "weibull_renewal"),
        "lead_time": lead_time_chart(
            raw.get("lead_time_law") or (), record.reorder_point, _unit(record), links
        ),
    }


def _is_statistics(reason: Mapping[str, Any]) -> bool:
    """How the demand was estimated: for the engineer, one click behind."""
    code: str = reason["code"]
    return code in STATISTICS or code.startswith(STATISTICS_BEGIN)


def _links_per_job(evidence: Mapping[str, Any]) -> int | None:
    """Of chain, whose demand in a lead time is in jobs."""
    links: int | None = (evidence.get("chain") or {}).get("links_per_job")
    return links


def _demand_chart(evidence: EvidencePage, record: Recommendation) -> Chart | None:
    demand = [row for row in evidence.demand if not row.is_earlier]
    if not demand:
        return None
    until = evidence.record_until or record.run.as_of
    return demand_chart(demand, evidence.record_from or demand[0].at, until, _unit(record))


def _unit(record: Recommendation) -> str:
    return label_of(record.item.unit, "unit")

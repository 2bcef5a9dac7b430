"""One recommendation opened down to its events: the answer, the decision, and all that it rests on."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from api.edge.auth import caller_name
from api.edge.csv_writing import csv_text
from api.edge.scope import visible_to_caller
from api.screens.planning.comparison import then_of, today_of
from api.screens.planning.decision_form import DecisionAttempt, decide
from api.screens.planning.demand_chart import demand_chart
from api.screens.planning.evidence import EvidencePage, evidence_page
from api.screens.planning.lead_time_chart import lead_time_chart
from api.screens.planning.life_chart import life_chart
from api.screens.planning.planning_filters import may_decide_of
from api.wire.recommendations import redacted
from api.wording.sentences import stored_sentences
from inventory.models import Recommendation, StockPolicy

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


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def recommendation(request: HttpRequest, key: int) -> HttpResponse:
    record = _record(key)
    tried = DecisionAttempt()
    if request.method == "POST":
        if not may_decide_of(request):
            raise PermissionDenied
        tried = decide(record, request.POST, by=caller_name(request))
        if tried.is_done:
            return redirect("screens:recommendation", key)
        record = _record(key)
    with timezone.override(ZoneInfo(record.storeroom.timezone)):
        return render(request, "planning/recommendation.html", _context(request, record, tried))


@require_safe
@login_required
def events_file(request: HttpRequest, key: int) -> HttpResponseBase:
    """Every asking behind it, as a file that no spreadsheet takes for a formula."""
    record = _record(key)
    proof = evidence_page(record.evidence, _today())
    rows = ([getattr(row, name) for name in COLUMNS] for row in proof.asked)
    answer = StreamingHttpResponse(csv_text(COLUMNS, rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="asked-for-{key}.csv"'
    return answer


def _record(key: int) -> Recommendation:
    record = visible_to_caller(Recommendation.objects.with_places()).filter(pk=key).first()
    if record is None:
        raise Http404
    return redacted(record)


def _today() -> Any:
    return timezone.localdate()


def _context(request: HttpRequest, record: Recommendation, tried: DecisionAttempt) -> dict[str, object]:
    evidence = record.evidence
    proof = evidence_page(evidence, _today())
    today, then = today_of(record), then_of(record, evidence.get("figures"))
    newest = Recommendation.objects.current().filter(item=record.item_id, storeroom=record.storeroom_id)
    return {
        "r": record,
        "reasons": stored_sentences(record.explanation),
        "since_last": stored_sentences(record.since_last),
        "today": today,
        "then": then,
        "proof": proof,
        "policy": StockPolicy.objects.filter(item=record.item_id, storeroom=record.storeroom_id).first(),
        "newest": newest.exclude(pk=record.pk).values_list("pk", flat=True).first(),
        "tried": tried,
        "may_decide": may_decide_of(request),
        "bars": _bars(proof, record.run.as_of),
        "plot": life_chart(
            proof.usable_lives, evidence.get("fit"), is_used=record.model == "weibull_renewal"
        ),
        "law": lead_time_chart(evidence.get("lead_time_law") or (), record.reorder_point),
    }


def _bars(proof: EvidencePage, as_of: datetime) -> Any:
    if not proof.asked:
        return None
    return demand_chart(proof.asked, proof.record_from or proof.asked[0].at, proof.record_until or as_of)

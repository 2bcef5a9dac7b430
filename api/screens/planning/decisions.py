"""Recommendations to decide: totals first, then each with its main reason."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.screens.planning.decision_list import decision_list
from api.screens.planning.list_filters import CHANGES, list_filters_of
from api.screens.planning.planning_tags import may_decide_of
from api.wording.labels import DEMAND_MODELS, IMPORTANCES
from inventory.models import Recommendation, RecommendationState, RunState, StockingRun, Storeroom
from inventory.planning.runs import failure_of


@require_safe
@login_required
def decisions(request: HttpRequest) -> HttpResponse:
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    filters = list_filters_of(request.GET, storerooms)
    run = StockingRun.objects.first()
    context = {
        "filters": filters,
        "list": decision_list(filters),
        "storerooms": storerooms,
        "importances": IMPORTANCES.items(),
        "changes": CHANGES.items(),
        "models": DEMAND_MODELS.items(),
        "missing_data": visible_to_caller(
            Recommendation.objects.filter(state=RecommendationState.OPEN, is_answered=False)
        ).count(),
        "may_decide": may_decide_of(request),
        "run": run,
        "failure": run and failure_of(run),
        "done": StockingRun.objects.filter(state=RunState.DONE).first(),
    }
    return render(request, "planning/decisions.html", context)

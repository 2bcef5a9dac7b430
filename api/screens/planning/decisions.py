"""What needs a decision: how much waits and what it comes to, then each with the sentence that says why."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.screens.planning.decision_list import decision_list
from api.screens.planning.list_filters import list_filters_of
from api.screens.planning.planning_filters import IMPORTANCES, MODELS, may_decide_of
from api.screens.planning.storeroom_time import storeroom_time
from inventory.models import Recommendation, RecommendationState, RunState, StockingRun, Storeroom
from inventory.planning.runs import failure_of


@require_safe
@login_required
def decisions(request: HttpRequest) -> HttpResponse:
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    choice = list_filters_of(request.GET, storerooms)
    run = StockingRun.objects.first()
    context = {
        "choice": choice,
        "list": decision_list(choice),
        "storerooms": storerooms,
        "importances": IMPORTANCES.items(),
        "models": MODELS.items(),
        "unanswered": visible_to_caller(
            Recommendation.objects.filter(state=RecommendationState.OPEN, is_answered=False)
        ).count(),
        "may_decide": may_decide_of(request),
        "run": run,
        "failure": run and failure_of(run),
        "done": StockingRun.objects.filter(state=RunState.DONE).first(),
    }
    with storeroom_time(storerooms, choice.storeroom):
        return render(request, "planning/decisions.html", context)

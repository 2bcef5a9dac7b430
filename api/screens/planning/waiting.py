"""What needs a decision: how much waits and what it comes to, then each with the sentence that says why."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.screens.planning.asking import choice_of
from api.screens.planning.clock import wall_clock
from api.screens.planning.words import IMPORTANCES, MODELS, may_decide_of
from api.screens.planning.worklist import worklist
from inventory.models import Recommendation, RecommendationState, RunState, StockingRun, Storeroom
from inventory.planning.runs import failure_of


@require_safe
@login_required
def waiting(request: HttpRequest) -> HttpResponse:
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    choice = choice_of(request.GET, storerooms)
    run = StockingRun.objects.first()
    context = {
        "choice": choice,
        "list": worklist(choice),
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
    with wall_clock(storerooms, choice.storeroom):
        return render(request, "keep/waiting.html", context)

"""Accept a group of recommendations at once: first what will be set and what it ties up, then each by its own request."""

from decimal import Decimal
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from api.edge.scope import visible_to_caller
from api.screens.own_api import send
from api.screens.planning.decision_list import rows_of, summaries_of, totals_of
from api.screens.planning.list_filters import CHANGES, ListFilters, list_filters_of
from api.screens.planning.planning_tags import may_decide_of
from api.screens.reports import report
from api.wording.labels import DEMAND_MODELS, IMPORTANCES
from inventory.models import Recommendation, Storeroom
from inventory.planning.decide import LONGEST_REASON

AT_ONCE = 100
REFUSALS_SHOWN = 5
LONGEST_KEY = 100


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def accept_decisions(request: WSGIRequest) -> HttpResponse:
    if not may_decide_of(request):
        raise PermissionDenied
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    filters = list_filters_of(request.GET, storerooms)
    if request.method == "POST":
        _accept(request)
        return redirect(reverse("screens:decisions") + filters.address(page=1))
    every = summaries_of(filters)
    # What has no price cannot be held against a limit, and what has no answer cannot be accepted.
    known = [one for one in every if one.change and one.tied_up_more is not None]
    listed = known[:AT_ONCE]
    context = {
        "filters": filters,
        "in_words": ", ".join(_in_words(filters)),
        "rows": rows_of(listed),
        "totals": totals_of(listed),
        "later": len(known) - len(listed),
        "without_price": len(every) - len(known),
        "longest_reason": LONGEST_REASON,
        "key": str(uuid4()),
    }
    return render(request, "planning/accept.html", context)


def _in_words(filters: ListFilters) -> list[str]:
    chosen = (
        (filters.storeroom, filters.storeroom),
        (filters.importance, IMPORTANCES.get(filters.importance)),
        (filters.model, DEMAND_MODELS.get(filters.model)),
        (filters.change, CHANGES.get(filters.change)),
    )
    words = [str(word) for value, word in chosen if value]
    if filters.limit is not None:
        words.append(_("each ties up at most {amount} more").format(amount=_amount(filters.limit)))
    return words


def _amount(limit: Decimal) -> str:
    return format(limit.normalize(), "f")


def _accept(request: WSGIRequest) -> None:
    """Only what was shown and ticked; what somebody decided meanwhile is named."""
    reason = request.POST.get("reason", "").strip()[:LONGEST_REASON]
    key = request.POST.get("key", "")[:LONGEST_KEY] or str(uuid4())
    sent = [one for one in request.POST.getlist("accept")[:AT_ONCE] if one.isascii() and one.isdigit()]
    asked = visible_to_caller(Recommendation.objects.filter(pk__in=[int(one[:18]) for one in sent]))
    done, refused = [], []
    for pk, number in asked.order_by("pk").values_list("pk", "item__stock_number"):
        body = {"reason": reason} if reason else {}
        answer = send(request, "recommendation-accept", body, f"{key}-{pk}", pk=pk)
        if answer.is_done:
            done.append(pk)
        else:
            refused.append(f"{number}: {answer.body.get('detail', '')}")
    if done:
        text = ngettext(
            "{n} recommendation accepted: its levels apply at once.",
            "{n} recommendations accepted: their levels apply at once.",
            len(done),
        )
        undo = "recommendation-reopen:" + ",".join(map(str, done))
        report(request, text.format(n=len(done)), undo)
    elif not refused:
        messages.error(request, _("Nothing was ticked, so nothing was accepted."))
    for line in refused[:REFUSALS_SHOWN]:
        messages.error(request, _("Not accepted: {why}").format(why=line))
    if (more := len(refused) - REFUSALS_SHOWN) > 0:
        messages.error(request, _("{n} more were not accepted.").format(n=more))

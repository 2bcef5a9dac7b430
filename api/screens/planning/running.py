"""Start a stocking run from the page."""

from contextlib import suppress

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from api.operations.jobs.queue import requester_of
from api.operations.jobs.recompute import request_recompute
from api.screens.planning.planning_tags import may_decide_of
from inventory.planning.runs import RunRefused


@require_POST
@login_required
def recalculate(request: HttpRequest) -> HttpResponse:
    """A run that is under way goes on: the page shows how far it is."""
    if not may_decide_of(request):
        raise PermissionDenied
    with suppress(RunRefused):
        request_recompute(requester_of(request))
    return redirect("screens:decisions")

"""Working everything out anew: begun from the page, done once the answer has been sent."""

import logging
from collections.abc import Callable
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from api.edge.auth import caller_name
from api.screens.planning.planning_filters import may_decide_of
from drives.demand.recompute import recompute
from inventory.models import StockingRun
from inventory.planning.runs import RunRefused, announce_run

logger = logging.getLogger(__name__)


class RedirectThenWork(HttpResponseRedirect):
    """The work begins when the server closes the answer, in the same process."""

    work: Callable[[], Any] | None = None

    def close(self) -> None:
        work, self.work = self.work, None
        try:
            if work is not None:
                work()
        except Exception:
            # The answer is gone: the run itself tells of the failure.
            logger.exception("A run begun from its page broke off.")
        finally:
            super().close()


@require_POST
@login_required
def recalculate(request: HttpRequest) -> HttpResponse:
    """A run that is under way goes on: the page shows how far it is."""
    if not may_decide_of(request):
        raise PermissionDenied
    try:
        run = announce_run(as_of=timezone.now(), by=caller_name(request))
    except RunRefused:
        return redirect("screens:decisions")
    answer = RedirectThenWork(reverse("screens:decisions"))
    answer.work = lambda: _carry_out(run)
    return answer


def _carry_out(run: StockingRun) -> None:
    recompute(as_of=run.as_of, by=run.started_by_name, is_full=run.is_full)

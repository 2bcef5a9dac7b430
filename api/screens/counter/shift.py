"""What I did this shift: every line of the ledger that this user booked, what was reserved and asked for, each with its undo."""

from datetime import datetime, timedelta

from django.contrib.auth.decorators import login_required
from django.db.models import CharField, Exists, OuterRef, QuerySet
from django.db.models.functions import Cast
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.models import Change
from drives.models import Request
from inventory.models import Reservation, StockEntry

SHIFT = timedelta(hours=12)
MOST_LINES = 200


@require_safe
@login_required
def shift(request: HttpRequest) -> HttpResponse:
    since = timezone.now() - SHIFT
    name = request.user.get_username()
    booked = StockEntry.objects.with_places().with_reversals().filter(recorded_at__gte=since)
    held = Reservation.objects.with_places().filter(created_at__gte=since, reserved_by_name=name)
    context = {
        "lines": visible_to_caller(booked.filter(recorded_by_id=request.user.pk)).order_by(
            "-recorded_at", "-id"
        )[:MOST_LINES],
        "reservations": visible_to_caller(held).order_by("-id")[:MOST_LINES],
        "requests": visible_to_caller(_requests(name, since)).order_by("-id")[:MOST_LINES],
        "most": MOST_LINES,
    }
    return render(request, "counter/shift.html", context)


def _requests(name: str, since: datetime) -> QuerySet[Request]:
    """Recorded by hand, which has no reference; who did it is in the change log."""
    own = Change.objects.filter(
        record=Request._meta.label_lower,
        key=Cast(OuterRef("pk"), CharField()),
        by_name=name,
        action="create",
    )
    # By the indexed column first: what was created since was also changed since.
    recorded = Request.objects.filter(Exists(own), updated_at__gte=since, created_at__gte=since, reference="")
    return recorded.select_related("item", "position", "storeroom")

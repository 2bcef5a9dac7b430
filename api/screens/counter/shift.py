"""What I did this shift: every line of the ledger that this user booked, newest first, each with its undo."""

from datetime import timedelta

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.screens.planning.storeroom_time import in_storeroom_time
from inventory.models import Reservation, StockEntry

SHIFT = timedelta(hours=12)
MOST_LINES = 200


@require_safe
@login_required
@in_storeroom_time
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
        "most": MOST_LINES,
    }
    return render(request, "counter/shift.html", context)

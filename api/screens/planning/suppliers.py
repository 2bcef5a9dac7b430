"""Suppliers: how many of their deliveries were something else than was ordered."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from api.answers.figures import CountedTime, CountedTimeQuery, counted_time
from api.edge.errors import PointedErrors, pointed
from api.edge.scope import visible_to_caller
from api.wording.labels import STANDINGS
from api.wording.separators import localized
from drives.figures.suppliers import SupplierDeliveries
from drives.figures.suppliers import suppliers as counted_suppliers
from inventory.models import Storeroom

MOST_ROWS = 50


class ShownSupplier:
    """A supplier as the page shows it."""

    def __init__(self, row: SupplierDeliveries) -> None:
        self.row = row
        self.shown = [(one.check, STANDINGS[one.standing]) for one in row.deliveries[:MOST_ROWS]]
        self.left_out = max(len(row.deliveries) - MOST_ROWS, 0)

    @property
    def range(self) -> str:
        if self.row.interval is None:
            return ""
        low, high = (localized(f"{100 * share:.0f}") for share in self.row.interval)
        return _("{low} to {high} %").format(low=low, high=high)


@require_safe
@login_required
def suppliers(request: HttpRequest) -> HttpResponse:
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    wanted, faults = time_of(request)
    rows = counted_suppliers(wanted.begins, wanted.ends, wanted.storerooms)
    context = {
        "storerooms": storerooms,
        "selected": request.GET.get("storeroom", ""),
        "since": wanted.since.isoformat(),
        "until": wanted.until.isoformat(),
        "rows": [ShownSupplier(row) for row in rows],
        "faults": faults,
    }
    return render(request, "planning/suppliers.html", context)


def time_of(request: HttpRequest) -> tuple[CountedTime, list[tuple[str, str]]]:
    """What the address asks for; with a fault, the last year of all storerooms."""
    given = {name: str(text).strip().replace("\0", "") for name, text in request.GET.items()}
    form = CountedTimeQuery(given)
    faults = [(name, str(said[0])) for name, said in form.errors.items()]
    now = timezone.now()
    if not faults:
        try:
            return counted_time(form.cleaned_data, now), []
        except PointedErrors as error:
            faults = [(row["pointer"].strip("/"), row["detail"]) for row in pointed(error)[1]]
    return counted_time(dict.fromkeys(form.fields), now), faults

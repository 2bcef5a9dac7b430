"""The reorder list by storeroom, on the screen, on paper and as a file."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.screens.planning.list_filters import list_filters_of
from api.screens.planning.storeroom_time import storeroom_time
from inventory.models import Storeroom
from inventory.planning.reorder_list import ORDER, WAIT, ReorderLine, reorder_list


@dataclass
class StoreroomReorderList:
    """What one storeroom has to order, what it can have from another one, and what waits for a return."""

    room: Storeroom
    order: list[ReorderLine] = field(default_factory=list)
    transfer: list[ReorderLine] = field(default_factory=list)
    wait: list[ReorderLine] = field(default_factory=list)

    @property
    def sums(self) -> list[tuple[str, Decimal]]:
        """Expected cost by currency."""
        found: dict[str, Decimal] = defaultdict(Decimal)
        for line in self.order:
            found[line.item.currency] += line.expected_cost or Decimal(0)
        return sorted((currency, total) for currency, total in found.items() if total)

    @property
    def without_price(self) -> int:
        return sum(line.expected_cost is None for line in self.order)


@require_safe
@login_required
def reorder(request: HttpRequest) -> HttpResponse:
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    filters = list_filters_of(request.GET, storerooms)
    room = next((room for room in storerooms if room.code == filters.storeroom), None)
    context = {
        "filters": filters,
        "storerooms": storerooms,
        "lists": lists_of(timezone.localdate(), room),
        "now": timezone.now(),
    }
    with storeroom_time(storerooms, filters.storeroom):
        return render(request, "planning/reorder.html", context)


def lists_of(today: date, room: Storeroom | None) -> list[StoreroomReorderList]:
    """By storeroom, in the order of the reorder list."""
    found: dict[str, StoreroomReorderList] = {}
    for line in reorder_list(today=today, storeroom=room):
        mine = found.setdefault(line.storeroom.code, StoreroomReorderList(line.storeroom))
        {ORDER: mine.order, WAIT: mine.wait}.get(line.action, mine.transfer).append(line)
    return list(found.values())

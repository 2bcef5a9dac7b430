"""The reorder list by storeroom, on the screen, on paper and as a file."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import islice
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.answers.reorder_totals import totals_of
from api.edge.scope import visible_to_caller
from api.screens.planning.list_filters import ListFilters, list_filters_of
from inventory.models import Storeroom
from inventory.planning.reorder_list import ORDER, WAIT, ReorderLine, place_of, reorder_lines
from inventory.planning.reorder_sums import ReorderSum

PAGE_LINES = 100


@dataclass
class StoreroomReorderList:
    """What one storeroom has to order, what it can have from another one, and what waits for a return."""

    room: Storeroom
    order: list[ReorderLine] = field(default_factory=list)
    transfer: list[ReorderLine] = field(default_factory=list)
    wait: list[ReorderLine] = field(default_factory=list)
    total: ReorderSum | None = None
    """Of the whole list, where these are only the lines of one page."""

    @property
    def total_sums(self) -> list[tuple[str, Decimal]]:
        return [(one.currency, one.amount) for one in self.total.costs] if self.total else []

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
    place = (request.GET.get(name, "").replace("\0", "") for name in ("after_room", "after_item"))
    after = (next(place), next(place))
    walk = reorder_lines(today=timezone.localdate(), storeroom=room, after=after if all(after) else None)
    lines = list(islice(walk, PAGE_LINES + 1))
    shown, has_more = lines[:PAGE_LINES], len(lines) > PAGE_LINES
    is_part = has_more or all(after)
    totals = totals_of(request, filters.storeroom, None if is_part else shown)
    context = {
        "filters": filters,
        "storerooms": storerooms,
        "lists": lists_of(shown, (totals.rooms or ()) if is_part else ()),
        "totals_as_of": totals.as_of,
        "next": filters.address() + _behind(filters, shown[-1]) if has_more else "",
        "is_part": is_part,
        "is_first": not all(after),
        "now": timezone.now(),
    }
    return render(request, "planning/reorder.html", context)


def _behind(filters: ListFilters, line: ReorderLine) -> str:
    room, item = place_of(line)
    return ("&" if filters.storeroom else "") + urlencode({"after_room": room, "after_item": item})


def lists_of(lines: Iterable[ReorderLine], totals: Iterable[ReorderSum] = ()) -> list[StoreroomReorderList]:
    """By storeroom, in the order of the reorder list."""
    found: dict[str, StoreroomReorderList] = {}
    sums = {one.storeroom: one for one in totals}
    for line in lines:
        room = line.storeroom
        mine = found.setdefault(room.code, StoreroomReorderList(room, total=sums.get(room.code)))
        {ORDER: mine.order, WAIT: mine.wait}.get(line.action, mine.transfer).append(line)
    return list(found.values())

"""What to measure next: lines by the money that waits for them, each a step from the count at which it is measured."""

from dataclasses import dataclass, replace
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from api.answers.measuring import HOW, lists_to_measure
from api.edge.auth import STOCK_ROLES, roles_of
from api.edge.change_log import log_creation
from api.edge.scope import visible_to_caller
from api.screens.planning.list_filters import page_number
from drives.models import Plant
from inventory.models import Condition, CountCause, CountTask, Item, Storeroom
from inventory.stores.counting.count_requests import request_count

PAGE_SIZE = 20


@dataclass(frozen=True)
class MeasureFilters:
    storeroom: str = ""
    plant: str = ""
    page: int = 1

    def address(self, **changes: object) -> str:
        chosen = replace(self, **changes)  # type: ignore[arg-type]
        return "?" + urlencode({name: value for name, value in vars(chosen).items() if value not in ("", 1)})


def may_count(request: HttpRequest) -> bool:
    return bool(roles_of(request) & set(STOCK_ROLES))


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def measuring(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        if not may_count(request):
            raise PermissionDenied
        return redirect("screens:count", key=_requested(request.POST).pk)
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    plants = list(visible_to_caller(Plant.objects.order_by("code")))
    filters = _filters_of(request.GET, storerooms, plants)
    found = lists_to_measure(storeroom=filters.storeroom, plant=filters.plant)
    context = {
        "filters": filters,
        "storerooms": storerooms,
        "plants": [(plant.code, plant.name, plant.code == filters.plant) for plant in plants],
        "found": found,
        "how": HOW,
        "page": Paginator(found.lines, PAGE_SIZE).get_page(filters.page),
        "may_count": may_count(request),
    }
    return render(request, "planning/measuring.html", context)


def _filters_of(query: QueryDict, storerooms: list[Storeroom], plants: list[Plant]) -> MeasureFilters:
    """What is not known is left out."""
    known = {"storeroom": {one.code for one in storerooms}, "plant": {one.code for one in plants}}
    right = {name: query.get(name, "") for name, codes in known.items() if query.get(name, "") in codes}
    return MeasureFilters(**right, page=page_number(query.get("page", "")))


def _requested(form: QueryDict) -> CountTask:
    """The count of the shelf, which is on the list from now on."""
    given = {name: form.get(name, "").replace("\0", "") for name in ("item", "storeroom", "condition")}
    item = get_object_or_404(visible_to_caller(Item.objects.all()), stock_number=given["item"])
    room = get_object_or_404(visible_to_caller(Storeroom.objects.all()), code=given["storeroom"])
    condition = given["condition"] if given["condition"] in Condition.values else Condition.NEW
    standing = CountTask.objects.open().filter(item=item, storeroom=room, condition=condition).first()
    if standing is not None:
        return standing
    task = request_count(item, room, condition, cause=CountCause.ASKED, at=timezone.now())
    log_creation(task)
    return task

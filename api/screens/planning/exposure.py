"""Where a stop would find nothing: the list that a manager should see first, the costliest place at the top."""

from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.answers.exposure import notes_on
from api.edge.scope import visible_to_caller
from api.screens.planning.list_filters import list_filters_of
from api.screens.planning.planning_filters import IMPORTANCES
from api.screens.planning.remembered import known_of, remembered
from api.screens.planning.storeroom_time import storeroom_time
from drives.exposure.positions_at_risk import PositionRisk, positions_at_risk
from drives.exposure.risk_inputs import load_risk_inputs
from inventory.facts import Fact
from inventory.models import Storeroom

PAGE_SIZE = 50
NAME = "exposure"
MOST_COVERS = 3


@dataclass(frozen=True)
class Exposed:
    """Every place, with what is not known of the plant and the hours that an emergency buy takes."""

    positions: tuple[PositionRisk, ...]
    notes: tuple[Fact, ...]
    hours_to_expedite: float | None


def exposed_now() -> Exposed:
    inputs = load_risk_inputs(timezone.now())
    risks = positions_at_risk(inputs)
    return Exposed(tuple(risks), tuple(notes_on(inputs, risks)), inputs.hours_to_expedite)


def exposure_known_of(request: HttpRequest, tag: str) -> PositionRisk | None:
    """Of one position, where the list was worked out lately."""
    known = known_of(request, NAME)
    if known is None:
        return None
    return next((row for row in known.found.positions if row.position.tag == tag), None)


@require_safe
@login_required
def exposure(request: HttpRequest) -> HttpResponse:
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    choice = list_filters_of(request.GET, storerooms)
    seen = remembered(request, NAME, exposed_now, anew=request.GET.get("anew") == "1")
    found: Exposed = seen.found
    chosen = [row for row in found.positions if _is_chosen(row, choice.storeroom, choice.importance)]
    page = Paginator(chosen, PAGE_SIZE).get_page(choice.page)
    context: dict[str, Any] = {
        "choice": choice,
        "seen_at": seen.at,
        "exposed": found,
        "page": page,
        "storerooms": storerooms,
        "importances": IMPORTANCES.items(),
        "bare": sum(row.chance is not None and not _free(row) for row in chosen),
        "untold": sum(row.chance is None for row in chosen),
        "most_covers": MOST_COVERS,
        "next_address": choice.address(page=page.next_page_number()) if page.has_next() else "",
        "previous_address": choice.address(page=page.previous_page_number()) if page.has_previous() else "",
        "anew_address": "?anew=1" + choice.address(page=1).replace("?", "&"),
    }
    with storeroom_time(storerooms, choice.storeroom):
        return render(request, "planning/exposure.html", context)


def _is_chosen(row: PositionRisk, storeroom: str, importance: str) -> bool:
    return storeroom in ("", row.position.storeroom) and importance in (
        "",
        row.position.criticality or "unknown",
    )


def _free(row: PositionRisk) -> int:
    return sum(cover.available for cover in row.covers)

"""Back-test: what each stocking rule would have promised and kept, over the plant's own record."""

from collections.abc import Iterable

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.answers.backtest import BACKTEST, Setting, parameters_of
from api.edge.scope import visible_to_caller
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.storeroom_time import storeroom_time
from api.wording.labels import BACKTEST_VERDICTS
from api.wording.sentences import sentence
from inventory.models import Storeroom
from inventory.stocking.backtest import Promise


@require_safe
@login_required
def backtest(request: HttpRequest) -> HttpResponse:
    code = request.GET.get("storeroom", "").strip()
    rooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    room = next((known for known in rooms if known.code == code), None)
    calculated = calculated_page(request, BACKTEST, parameters_of(Setting(), room.code if room else ""))
    answer = calculated.found
    context = {
        **context_of(calculated),
        "answer": answer,
        "explanation": [sentence(reason) for reason in answer.reasons] if answer else [],
        "targets": by_target(answer.outcomes) if answer else [],
        "rooms": rooms,
        "room": room,
        "is_unknown": bool(code) and room is None,
    }
    with storeroom_time(rooms, room.code if room else ""):
        return render(request, "planning/backtest.html", context)


def by_target(outcomes: Iterable[Promise]) -> list[tuple[float, list[tuple[Promise, str]]]]:
    """The rules under each promise: those that kept it first, least left over first."""
    found: dict[float, list[tuple[Promise, str]]] = {}
    for promise in outcomes:
        found.setdefault(promise.promised, []).append((promise, str(BACKTEST_VERDICTS[promise.verdict])))
    for rows in found.values():
        rows.sort(key=lambda row: (row[0].verdict == "missed", row[0].mean_leftover, row[0].rule))
    return sorted(found.items())

"""Back-test: what each stocking rule would have promised and kept, over the plant's own record."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.answers.backtest import BACKTEST, Setting, parameters_of
from api.edge.scope import visible_to_caller
from api.screens.charts.chart import file_of
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.planning_tags import may_decide_of
from api.screens.planning.promise_chart import promise_chart
from api.wording.labels import BACKTEST_VERDICTS
from api.wording.sentences import sentence
from inventory.models import Storeroom
from inventory.stocking.backtest import RECOMMENDED, Promise

REPLAYED = frozenset({"levels_kept_promise", "levels_missed_promise", "levels_exceeded_promise"})


@require_safe
@login_required
def backtest(request: HttpRequest) -> HttpResponseBase:
    code = request.GET.get("storeroom", "").strip()
    rooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    room = next((known for known in rooms if known.code == code), None)
    calculated = calculated_page(request, BACKTEST, parameters_of(Setting(), room.code if room else ""))
    answer = calculated.found
    context = {
        **context_of(calculated),
        "answer": answer,
        "explanation": [sentence(reason) for reason in answer.reasons] if answer else [],
        "promises": promises_of(answer.outcomes) if answer else [],
        "levels": [sentence(one) for one in answer.reasons if one.code in REPLAYED] if answer else [],
        "chart": promise_chart([one.promise for one in promises_of(answer.outcomes)]) if answer else None,
        "targets": by_target(answer.outcomes) if answer else [],
        "rooms": rooms,
        "may_decide": may_decide_of(request),
        "room": room,
        "is_unknown": bool(code) and room is None,
    }
    return file_of(request, context) or render(request, "planning/backtest.html", context)


@dataclass(frozen=True)
class PlainPromise:
    """What the recommended rule promised and kept; `instead` is the promise that would have reached this one."""

    promise: Promise
    instead: Promise | None

    @property
    def is_missed(self) -> bool:
        return self.promise.verdict == "missed"

    @property
    def more_left_over(self) -> float:
        return self.instead.mean_leftover - self.promise.mean_leftover if self.instead else 0.0


def promises_of(outcomes: Iterable[Promise]) -> list[PlainPromise]:
    mine = sorted((one for one in outcomes if one.rule == RECOMMENDED), key=lambda one: one.promised)
    return [
        PlainPromise(one, next((other for other in mine if other.achieved >= one.promised), None))
        for one in mine
    ]


def by_target(outcomes: Iterable[Promise]) -> list[tuple[float, list[tuple[Promise, str]]]]:
    """The rules under each promise: those that kept it first, least left over first."""
    found: dict[float, list[tuple[Promise, str]]] = {}
    for promise in outcomes:
        found.setdefault(promise.promised, []).append((promise, str(BACKTEST_VERDICTS[promise.verdict])))
    for rows in found.values():
        rows.sort(key=lambda row: (row[0].verdict == "missed", row[0].mean_leftover, row[0].rule))
    return sorted(found.items())

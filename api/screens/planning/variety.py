"""Variety: which items could go because a few others serve their positions, and the marking of items to be run down."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from api.answers.assortment import MOST_MINUTES, VARIETY, variety_parameters
from api.answers.run_downs import mark_run_down, undo_mark
from api.edge.auth import caller_name
from api.screens.acts import Done, SentForm, carry_out, number_of
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.planning_tags import may_decide_of
from api.wording.labels import GRADES
from drives.assortment.running_down import LONGEST_REASON
from drives.assortment.variety import VarietyGroup
from drives.demand.cover import GRADES_KEPT
from inventory.interchange.vocabulary import BoreType
from inventory.models import Item, RunDown

PAGE_SIZE = 20
GENERAL_BORES = {
    BoreType.PLAIN.value: gettext_lazy("pilot-bored"),
    BoreType.TAPERED.value: gettext_lazy("for a bush"),
    BoreType.QD.value: gettext_lazy("for a bush"),
}
MARKS_SHOWN = 20


@dataclass(frozen=True)
class VarietyFilters:
    worst_grade: str = ""
    most_minutes: str = ""
    general: str = ""
    page: int = 1

    def address(self, **changes: object) -> str:
        chosen = replace(self, **changes)  # type: ignore[arg-type]
        query = {name: value for name, value in vars(chosen).items() if value not in ("", 1)}
        return f"?{urlencode(query)}"

    @property
    def grades(self) -> list[tuple[str, str, bool]]:
        return [(one.value, str(GRADES[one][0]), one.value == self.worst_grade) for one in GRADES_KEPT]


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def variety(request: HttpRequest) -> HttpResponse:
    sent = carry_out(request, act, is_allowed=may_decide_of(request))
    if sent.is_done:
        return redirect(f"{request.get_full_path()}#run-downs")
    filters = filters_of(request.GET)
    minutes = int(filters.most_minutes) if filters.most_minutes else None
    calculated = calculated_page(request, VARIETY, variety_parameters(filters.worst_grade, minutes))
    context = {**context_of(calculated), **context_of_marks(sent), "filters": filters}
    if calculated.found is not None:
        groups = [one for one in calculated.found.groups if not filters.general or generalises(one)]
        page = Paginator(groups, PAGE_SIZE).get_page(filters.page)
        active = still_active(one.item_id for group in page for one in group.leave)
        context |= {
            "page": page,
            "general_bores": GENERAL_BORES,
            "groups": [
                (
                    group,
                    [(one, one.item_id in active) for one in group.leave],
                    group.leave[0].item_id,
                    sum(one.pieces for one in group.leave),
                )
                for group in page
            ],
        }
    return render(request, "planning/variety.html", context, status=sent.status)


def context_of_marks(sent: SentForm) -> dict[str, object]:
    marks = RunDown.objects.select_related("item")[:MARKS_SHOWN]
    return {"sent": sent, "marks": marks, "longest_reason": LONGEST_REASON}


def generalises(group: VarietyGroup) -> bool:
    """Items for many shafts in place of several."""
    return len(group.leave) > 1 and any(one.bore_type in GENERAL_BORES for one in group.keep)


def still_active(items: Iterable[int]) -> set[int]:
    """Of those of the list: others were marked since it was calculated."""
    return set(Item.objects.filter(pk__in=items, lifecycle="active").values_list("pk", flat=True))


def filters_of(query: QueryDict) -> VarietyFilters:
    """What is not known is left out."""
    grade, minutes = query.get("worst_grade", ""), query.get("most_minutes", "")
    known = grade in [one.value for one in GRADES_KEPT]
    given = minutes == "0" or 0 < number_of(minutes) <= MOST_MINUTES
    page = number_of(query.get("page", "")) or 1
    return VarietyFilters(
        grade if known else "", minutes if given else "", "1" if query.get("general") == "1" else "", page
    )


def act(request: HttpRequest, form: QueryDict) -> Done:
    """Mark the chosen items, or take one mark back."""
    by, reason = caller_name(request), form.get("reason", "")
    if mark := form.get("mark"):
        undone = undo_mark(number_of(mark), by=by, reason=reason)
        said = _("{item} is active again. That is not undone: mark it again where it was a mistake.")
        return Done(said.format(item=undone.item.stock_number))
    marks = mark_run_down([number_of(text) for text in form.getlist("item")], by=by, reason=reason)
    names = ", ".join(mark.item.stock_number for mark in marks)
    keys = ",".join(str(mark.pk) for mark in marks)
    return Done(_("Run down: {items}.").format(items=names), f"run-down-undo:{keys}")

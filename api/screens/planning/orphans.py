"""Orphans and holes: pieces that no position asks for, and positions that nothing on any shelf serves."""

from dataclasses import dataclass, replace
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from api.answers.assortment import ORPHANS
from api.screens.acts import carry_out, number_of
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.planning_tags import may_decide_of
from api.screens.planning.variety import PAGE_SIZE, act, context_of_marks
from drives.assortment.orphans import OrphanAdvice

LISTS = {"orphans": _("Orphans"), "insurance": _("To keep"), "holes": _("Holes")}
ADVICE = {
    OrphanAdvice.KEEP: _("Keep as insurance: the only piece on any shelf for a vital position."),
    OrphanAdvice.OFFER: _("Offer it to the other storeroom, whose positions could use it."),
    OrphanAdvice.RUN_DOWN: _("Run down: no position in use asks for it."),
    OrphanAdvice.DESCRIBE: _("Complete its attributes first: too little is known to say."),
    OrphanAdvice.USE_UP: _("Not active any more: use it up."),
}


@dataclass(frozen=True)
class OrphanFilters:
    show: str = "orphans"
    page: int = 1

    def address(self, **changes: object) -> str:
        return "?" + urlencode(vars(replace(self, **changes)))  # type: ignore[arg-type]

    @property
    def lists(self) -> list[tuple[str, str, bool]]:
        return [
            (str(label), self.address(show=name, page=1), name == self.show) for name, label in LISTS.items()
        ]

    @property
    def is_holes(self) -> bool:
        return self.show == "holes"


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def orphans(request: HttpRequest) -> HttpResponse:
    sent = carry_out(request, act, is_allowed=may_decide_of(request))
    if sent.is_done:
        return redirect(f"{request.get_full_path()}#run-downs")
    show = request.GET.get("show", "")
    filters = OrphanFilters(show if show in LISTS else "orphans", number_of(request.GET.get("page", "")) or 1)
    calculated = calculated_page(request, ORPHANS, {})
    context = {**context_of(calculated), **context_of_marks(sent), "filters": filters}
    if calculated.found is not None:
        found = calculated.found
        page = Paginator(getattr(found, filters.show), PAGE_SIZE).get_page(filters.page)
        context["page"] = page
        if not filters.is_holes:
            context["rows"] = [(one, ADVICE[one.advice], one.advice == OrphanAdvice.RUN_DOWN) for one in page]
    return render(request, "planning/orphans.html", context, status=sent.status)

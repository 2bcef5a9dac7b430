"""Duplicates: groups by money, the merge of a group, and the way back from each merge."""

from dataclasses import dataclass, replace
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from api.answers.merges import merge_numbers, undo_merge
from api.edge.auth import caller_name
from api.edge.scope import visible_to_caller
from api.screens.acts import ActRefused, Done, SentForm, carry_out, number_of
from api.screens.planning.duplicate_groups import PAGE_SIZE, shown_groups, totals_of, visible_groups
from api.screens.planning.planning_tags import may_decide_of
from api.wording.sentences import stored_sentences
from drives.duplicates.groups import target_fill_rate
from inventory.models import DuplicateGroup, Item, Likeness, Merge
from inventory.planning.terms import load_terms

MERGES_SHOWN = 20
LONGEST_PAGE = 6
LIKENESSES = {
    Likeness.EQUAL.value: gettext_lazy("Equal"),
    Likeness.NEAR.value: gettext_lazy("Nearly equal"),
    Likeness.WORDS.value: gettext_lazy("Similar words only"),
}
OPEN_THINGS = {
    "supply_orders": gettext_lazy("open orders"),
    "reservations": gettext_lazy("open reservations"),
    "counts": gettext_lazy("open counts"),
    "fit_questions": gettext_lazy("open fit questions"),
}


@dataclass(frozen=True)
class DuplicateFilters:
    likeness: str = ""
    page: int = 1

    def address(self, **changes: object) -> str:
        chosen = replace(self, **changes)  # type: ignore[arg-type]
        query = {name: value for name, value in vars(chosen).items() if value not in ("", 1)}
        return f"?{urlencode(query)}"

    @property
    def choices(self) -> list[tuple[str, str, bool]]:
        named = [("", _("All")), *((value, str(label)) for value, label in LIKENESSES.items())]
        return [
            (label, self.address(likeness=value, page=1), value == self.likeness) for value, label in named
        ]


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def duplicates(request: HttpRequest) -> HttpResponse:
    sent = carry_out(request, act, is_allowed=may_decide_of(request))
    if sent.is_done:
        return redirect(reverse("screens:duplicates") + "#merges")
    return render(request, "planning/duplicates.html", context_of(request, sent), status=sent.status)


def act(request: HttpRequest, form: QueryDict) -> Done:
    return undo_one(request, form) if form.get("merge") else merge_group(request, form)


def merge_group(request: HttpRequest, form: QueryDict) -> Done:
    """Every chosen number into the one that stays, or none."""
    groups = visible_to_caller(DuplicateGroup.objects.all())
    group = groups.filter(pk=number_of(form.get("group", ""))).first()
    if group is None:
        raise ActRefused(_("This group has changed since: choose again."))
    members = {one.pk: one for one in Item.objects.filter(duplicate_member__group=group)}
    stays = members.get(number_of(form.get("stays", "")))
    if stays is None:
        raise ActRefused(_("Choose the number that stays."))
    goes = (number_of(text) for text in form.getlist("goes"))
    chosen = [members[pk] for pk in goes if pk in members and pk != stays.pk]
    if not chosen:
        raise ActRefused(_("Choose at least one number to merge into it."))
    said = {name: form.get(name, "").strip() for name in ("reason", "approved_by", "approval_reason")}
    made = [merge_numbers(item, stays, by=caller_name(request), **said) for item in chosen]
    keys = ",".join(str(one.pk) for one in reversed(made))
    names = ", ".join(item.stock_number for item in chosen)
    text = _("{items} merged into {into}.").format(items=names, into=stays.stock_number)
    return Done(text, f"merge-undo:{keys}")


def undo_one(request: HttpRequest, form: QueryDict) -> Done:
    merges = visible_to_caller(Merge.objects.select_related("item", "into"))
    made = merges.filter(pk=number_of(form.get("merge", ""))).first()
    if made is None:
        raise ActRefused(_("There is no such merge."))
    undo_merge(made, by=caller_name(request), reason=form.get("reason", ""))
    said = _("{item} has its own stock again. That is not undone: merge it again where it was a mistake.")
    return Done(said.format(item=made.item.stock_number))


def context_of(request: HttpRequest, sent: SentForm) -> dict[str, object]:
    likeness, page = request.GET.get("likeness", ""), request.GET.get("page", "")[:LONGEST_PAGE]
    filters = DuplicateFilters(likeness if likeness in LIKENESSES else "", max(number_of(page), 1))
    groups = visible_groups(filters.likeness)
    totals = totals_of(groups)
    paginator = Paginator(groups.order_by("-worth", "id"), PAGE_SIZE)
    paginator.count = totals.groups
    shown = paginator.get_page(filters.page)
    # Joined, SQLite would read all items to find those of a few merges.
    merges = visible_to_caller(Merge.objects.prefetch_related("item", "into").order_by("-pk"))[:MERGES_SHOWN]
    newest = DuplicateGroup.objects.order_by("-found_at").first()
    return {
        "filters": filters,
        "totals": totals,
        "page": shown,
        "groups": shown_groups(groups.filter(pk__in=[one.pk for one in shown]).order_by("-worth", "id")),
        "merges": [(one, stored_sentences(one.doubts), stored_sentences(one.left_with)) for one in merges],
        "may_decide": may_decide_of(request),
        "sent": sent,
        "found_at": newest and newest.found_at,
        "likenesses": LIKENESSES,
        "open_names": OPEN_THINGS,
        "fill_rate": target_fill_rate(),
        "holding_rate": load_terms().holding_rate_per_year,
    }

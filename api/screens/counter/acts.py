"""One page for each act: it opens filled in, sends once, reports in one line, and that line undoes it."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from api.edge.auth import STOCK_ROLES, roles_of
from api.screens.counter.act_form import ActForm
from api.screens.counter.forms import ACTS
from api.screens.counter.in_hand import CounterJob, forget, job_in_hand, remember
from api.screens.own_api import Answer, send
from api.screens.reports import report
from api.screens.visible_record import visible_or_404
from api.wording.recorded_reasons import UNDONE_AT_COUNTER, UNDONE_ON_PAGE
from inventory.models import Item

UNDOING: dict[str, dict[str, Any]] = {
    "movement-reverse": {"reason": UNDONE_AT_COUNTER},
    "reservation-release": {},
    "request-retract": {},
    "recommendation-reopen": {},
    "run-down-undo": {"reason": UNDONE_ON_PAGE},
    "merge-undo": {"reason": UNDONE_ON_PAGE},
    "substitution-rule-withdraw": {"reason": UNDONE_ON_PAGE},
}
LONGEST_KEY = 100
BY_SCRIPT = "Sent-By-Script"
WITHOUT_ITEM = frozenset({"ask"})
REMEDIES = {
    "found": ("found", gettext_lazy("It lies there: count and issue it")),
    "not_there": ("not-there", gettext_lazy("It is not there: book the shelf empty")),
    "override_reservation": ("issue", gettext_lazy("Take what is reserved for other work")),
    "join_pieces": ("issue", gettext_lazy("Join pieces of chain")),
    "count": ("count", gettext_lazy("Count the shelf")),
    "issue_available": ("issue", gettext_lazy("Issue what is available")),
}
"""What an answer offers in place of the refused act, and the page for it."""


def may_book_of(request: HttpRequest) -> bool:
    return bool(roles_of(request) & frozenset(STOCK_ROLES))


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def act(request: WSGIRequest, name: str) -> HttpResponse:
    form_class = ACTS.get(name)
    if form_class is None:
        raise Http404
    if not may_book_of(request):
        raise PermissionDenied
    query = request.POST if request.method == "POST" else request.GET
    item = _item_of(query, may_be_left_out=name in WITHOUT_ITEM)
    then = _then(query, item)
    if request.method != "POST":
        form = form_class(None, item=item, asked=request.GET.dict(), job=job_in_hand(request))
        return _page(request, name, form, then)
    form = form_class(request.POST, item=item)
    if not form.is_valid():
        return _page(request, name, form, then)
    answer = send(request, form.address, form.body(), form.cleaned_data["key"])
    if not answer.is_done:
        form.take_refusal(answer.body)
        return _page(request, name, form, then, answer)
    notes = [one["explanation"] for one in answer.body.get("notes", ())]
    report(request, " ".join([form.done(answer.body), *notes]), _undo_of(form, answer.body))
    if answer.body.get("next"):
        then = _after_empty_shelf(form, then)
    return remember(go_on(request, then), request, _job_of(request, form))


@require_POST
@login_required
def undo(request: WSGIRequest) -> HttpResponse:
    """Each of the named records by its own request; where one cannot be undone, it is said why."""
    name, _colon, keys = request.POST.get("act", "").partition(":")
    body, key = UNDOING.get(name), request.POST.get("key", "")[:LONGEST_KEY]
    numbers = [key for key in keys.split(",") if key.isascii() and key.isdigit() and len(key) <= 18]
    if body is None or not numbers or not key:
        raise Http404
    for number in numbers:
        answer = send(request, name, body, f"{key}-{number}", pk=number)
        if answer.status == 404:
            raise Http404
        if not answer.is_done:
            messages.error(request, _("Not undone: {why}").format(why=answer.body.get("detail", "")))
            break
    else:
        report(request, _("Undone."), f"undone:{request.POST['act']}")
    return redirect(_then(request.POST, None))


@require_POST
@login_required
def put_down(request: HttpRequest) -> HttpResponse:
    """The next act is for another job."""
    return forget(redirect(_then(request.POST, None)))


def _item_of(query: Mapping[str, Any], *, may_be_left_out: bool) -> Item | None:
    number = str(query.get("item", ""))
    if not number and may_be_left_out:
        return None
    return visible_or_404(Item.objects.select_related("specification"), "stock_number", number)


def _then(query: Mapping[str, Any], item: Item | None) -> str:
    home = reverse("screens:item", args=[item.stock_number]) if item else reverse("screens:home")
    return then_of(query, home)


def then_of(query: Mapping[str, Any], otherwise: str) -> str:
    """The page to go on with: the one that was left, if it is one of ours."""
    wanted = str(query.get("then", ""))
    is_ours = wanted.startswith("/") and url_has_allowed_host_and_scheme(wanted, allowed_hosts=None)
    return wanted if is_ours else otherwise


def go_on(request: HttpRequest, address: str) -> HttpResponse:
    """A script is told where to go: followed by it, the redirect would show the report to nobody."""
    if request.headers.get(BY_SCRIPT):
        return HttpResponse(status=204, headers={"Location": address})
    return HttpResponseRedirect(address)


def _page(
    request: HttpRequest, name: str, form: ActForm, then: str, answer: Answer | None = None
) -> HttpResponse:
    body = answer.body if answer else {}
    if answer is not None:
        # What was refused is answered for ever under its key; the form that was put right is another request.
        form.data = {
            **{name: form.data.get(name) for name in form.data},
            "key": str(uuid4()),
            "verdict": form.initial.get("verdict", ""),
        }
    context = {
        "name": name,
        "form": form,
        "item": form.item,
        "then": then,
        "judged": getattr(form, "judged", None),
        "remedies": _remedies(body.get("remedies", ()), then),
    }
    status = answer.status if answer is not None else 400 if form.is_bound else 200
    return render(request, "counter/act.html", context, status=status)


def _remedies(offered: Any, then: str) -> list[tuple[str, str]]:
    found = []
    for one in offered:
        if one["action"] not in REMEDIES:
            continue
        page, words = REMEDIES[one["action"]]
        filled = {
            name: value["reason"] if isinstance(value, dict) else value
            for name, value in one["body"].items()
            if value not in (None, "")
        }
        address = f"{reverse('screens:act', args=[page])}?{urlencode({**filled, 'then': then})}"
        found.append((str(words), address))
    return found


def _undo_of(form: ActForm, body: Mapping[str, Any]) -> str:
    """Newest first: a count that was booked with an issue is undone after it; one that changed nothing is not."""
    booked = [one["id"] for one in (body, body.get("count")) if one and one.get("change") != 0]
    return f"{form.undone_by}:{','.join(map(str, booked))}" if booked else ""


def _after_empty_shelf(form: ActForm, then: str) -> str:
    """To the position that still needs a part, where one was named."""
    position = form.said.get("position")
    return reverse("screens:position", args=[position]) if position else then


def _job_of(request: HttpRequest, form: ActForm) -> CounterJob:
    said, job = form.said, job_in_hand(request)
    if not {"position", "work_order"} & said.keys():
        return job
    return CounterJob(said.get("position", job.position), said.get("work_order", job.work_order))

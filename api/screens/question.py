"""A question about fit: what the records said, what is to be measured, and the answer that closes it."""

from uuid import uuid4

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from api.edge.scope import visible_to_caller
from api.screens.counter.acts import go_on, may_book_of
from api.screens.own_api import send
from api.screens.reports import report
from api.wording.sentences import sentence
from inventory.facts import fact_from_json
from inventory.models import FitQuestion

LONGEST_ANSWER, LONGEST_KEY = 300, 100


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def question(request: WSGIRequest, key: int) -> HttpResponse:
    rows = FitQuestion.objects.select_related("item", "storeroom", "entry")
    asked = get_object_or_404(visible_to_caller(rows), pk=key)
    fault = ""
    if request.method == "POST":
        if not may_book_of(request):
            raise PermissionDenied
        sent = {"answer": request.POST.get("answer", "").replace("\0", "").strip()}
        key_sent = request.POST.get("key", "")[:LONGEST_KEY] or str(uuid4())
        answer = send(request, "fit-question-answer", sent, key_sent, pk=asked.pk)
        if answer.is_done:
            report(
                request,
                _("Answered: the question is closed. It is not opened again; a new return asks anew."),
            )
            return go_on(request, reverse("screens:home"))
        first = next(iter(answer.body.get("errors", ())), answer.body)
        fault = first.get("detail", "")
    context = {
        "asked": asked,
        "measure": sentence(fact_from_json(asked.measure_fact)) if asked.measure_fact else asked.measure,
        "fault": fault,
        "sent": request.POST.get("answer", ""),
        "may_answer": may_book_of(request) and asked.answered_at is None,
        "longest": LONGEST_ANSWER,
    }
    return render(request, "screens/question.html", context, status=400 if fault else 200)

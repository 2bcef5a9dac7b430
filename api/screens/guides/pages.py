"""The page of a guide."""

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.screens.guides.library import NAMES, guide


@require_safe
@login_required
def guide_page(request: HttpRequest, name: str) -> HttpResponse:
    if name not in NAMES:
        raise Http404
    return render(request, "guides/guide.html", {"guide": guide(name)})

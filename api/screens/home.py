"""The front page: one box. What was typed or scanned leads straight there when it can be only one thing."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from api.screens.search import search
from api.screens.stories import stories_here


@require_safe
@login_required
def home(request: HttpRequest) -> HttpResponse:
    found = search(request.GET.get("q", ""))
    if found.only:
        return redirect(found.only.address)
    stories = [] if found.question else stories_here()
    return render(request, "screens/home.html", {"found": found, "stories": stories})


@require_safe
@login_required
def search_hits(request: HttpRequest) -> HttpResponse:
    """The answers alone, for the box that answers while typing."""
    return render(request, "screens/search_hits.html", {"found": search(request.GET.get("q", ""))})

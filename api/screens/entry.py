"""The front page: one box. What was typed or scanned leads straight there when it can be only one thing."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from api.screens.finding import find
from api.screens.stories import stories_here


@require_safe
@login_required
def front(request: HttpRequest) -> HttpResponse:
    found = find(request.GET.get("q", ""))
    if found.only:
        return redirect(found.only.address)
    stories = [] if found.question else stories_here()
    return render(request, "screens/front.html", {"found": found, "stories": stories})


@require_safe
@login_required
def hits(request: HttpRequest) -> HttpResponse:
    """The answers alone, for the box that answers while typing."""
    return render(request, "screens/hits.html", {"found": find(request.GET.get("q", ""))})

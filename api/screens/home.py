"""The home page: a search box that goes straight to the only hit."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from api.screens.search import search
from api.screens.stories import stories_here


@require_safe
@login_required
def home(request: HttpRequest) -> HttpResponse:
    found = search(request.GET.get("q", ""), words_alone=request.GET.get("as") == "words")
    if found.only:
        return redirect(found.only.address)
    stories = [] if found.text else stories_here()
    return render(request, "screens/home.html", {"found": found, "stories": stories})


@require_safe
@login_required
def search_hits(request: HttpRequest) -> HttpResponse:
    """The hits alone, for the box that answers while typing."""
    return render(request, "screens/search_hits.html", {"found": search(request.GET.get("q", ""))})

"""The page of help: the guides, and what the grades, checks and figures mean. Others lead to its places."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.screens.guides.library import find, guides
from api.wording.term import Term
from api.wording.terms import TERMS

LONGEST_QUESTION = 120


@require_safe
@login_required
def help_page(request: HttpRequest) -> HttpResponse:
    asked = request.GET.get("q", "").strip()[:LONGEST_QUESTION]
    context: dict[str, Any] = {"asked": asked, "guides": guides(), "groups": TERMS}
    if asked:
        context |= {"hits": find(asked), "terms": terms_with(asked)}
    return render(request, "screens/help.html", context)


def terms_with(asked: str) -> list[Term]:
    words = asked.casefold().split()
    every = [term for _, _, terms in TERMS for term in terms]
    return [one for one in every if all(word in text_of(one) for word in words)]


def text_of(term: Term) -> str:
    return f"{term.words} {term.meaning} {term.basis} {term.act}".casefold()

"""The page of help: the guides, and what the grades, checks and figures mean. Others lead to its places."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.screens.guides.finding import find_texts
from api.screens.guides.library import SHOWN, find, guides
from api.wording.term import Term
from api.wording.terms import TERMS

LONGEST_QUESTION = 120


@require_safe
@login_required
def help_page(request: HttpRequest) -> HttpResponse:
    asked = request.GET.get("q", "").strip()[:LONGEST_QUESTION]
    context: dict[str, Any] = {"asked": asked, "guides": guides(), "groups": TERMS}
    if asked:
        (hits, guides_have_all), (terms, terms_have_all) = find(asked), terms_with(asked)
        # Where one of both has every word, what has only some of them is not shown beside it.
        if hits and terms and guides_have_all != terms_have_all:
            hits, terms = (hits, []) if guides_have_all else ([], terms)
        have_all = guides_have_all if hits else terms_have_all
        context |= {"hits": hits, "terms": terms, "have_every_word": have_all}
    return render(request, "screens/help.html", context)


def terms_with(asked: str) -> tuple[list[Term], bool]:
    every = [term for _, _, terms in TERMS for term in terms]
    texts = [(str(one.words), f"{one.meaning} {one.basis} {one.act}") for one in every]
    found = find_texts(asked, texts)
    return [every[place] for place in found.places[:SHOWN]], found.have_every_word

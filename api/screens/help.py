"""The page of help: what the grades, checks and figures mean. Others lead to its places."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.wording.terms import TERMS


@require_safe
@login_required
def help_page(request: HttpRequest) -> HttpResponse:
    return render(request, "screens/help.html", {"groups": TERMS})

"""Pages of the contract: reference, guide, and what each refusal means."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from api.edge import problems
from api.edge.schema import document
from api.screens.contract import reference
from api.screens.contract.written import as_html, page_of


@require_safe
@login_required
def docs(request: HttpRequest) -> HttpResponse:
    info = document()["info"]
    context = {"text": as_html(info["description"]), "groups": reference.names(), "version": info["version"]}
    return render(request, "contract/docs.html", context)


@require_safe
@login_required
def docs_group(request: HttpRequest, name: str) -> HttpResponse:
    return group_page(request, name, "contract/group.html", reverse("docs_members", args=[name]))


@require_safe
@login_required
def docs_members(request: HttpRequest, name: str) -> HttpResponse:
    return group_page(request, name, "contract/group_members.html", "")


def group_page(request: HttpRequest, name: str, template: str, at: str) -> HttpResponse:
    """`at` is the page of the members, where it is another one."""
    if name not in dict(reference.names()):
        raise Http404
    return render(request, template, {"group": reference.group(name), "at": at})


@require_safe
@login_required
def first_hour(request: HttpRequest) -> HttpResponse:
    context = {"title": _("Your first hour"), "text": page_of("first_hour")}
    return render(request, "contract/guide.html", context)


@require_safe
@login_required
def changes(request: HttpRequest) -> HttpResponse:
    context = {"title": _("What changed in the API"), "text": page_of("changes")}
    return render(request, "contract/guide.html", context)


@require_safe
def problem_list(request: HttpRequest) -> HttpResponse:
    return answer(
        request, "contract/problems.html", {"problems": [one.as_json() for one in problems.PROBLEMS]}
    )


@require_safe
def problem(request: HttpRequest, slug: str) -> HttpResponse:
    """Open to all, as a caller without credentials asks too."""
    found = problems.find(slug)
    if found is None:
        raise Http404
    return answer(request, "contract/problem.html", found.as_json())


def answer(request: HttpRequest, template: str, context: dict[str, Any]) -> HttpResponse:
    if request.get_preferred_type(["text/html", "application/json"]) == "application/json":
        return JsonResponse(context)
    return render(request, template, context)

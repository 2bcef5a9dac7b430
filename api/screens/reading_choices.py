"""Language and units of whoever reads, kept in cookies of this browser."""

from django.conf import settings
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from api.edge.units import COOKIE, UNITS


@require_POST
def choose_reading(request: HttpRequest) -> HttpResponse:
    chosen = {settings.LANGUAGE_COOKIE_NAME: "language", COOKIE: "units"}
    words = {cookie: request.POST.get(field, "") for cookie, field in chosen.items()}
    if words[settings.LANGUAGE_COOKIE_NAME] not in dict(settings.LANGUAGES) or words[COOKIE] not in UNITS:
        raise BadRequest("language or units is not one of those offered")
    then = request.POST.get("then", "")
    is_ours = then.startswith("/") and url_has_allowed_host_and_scheme(then, allowed_hosts=None)
    page = redirect(then if is_ours else reverse("screens:home"))
    for cookie, word in words.items():
        page.set_cookie(
            cookie,
            word,
            max_age=settings.LANGUAGE_COOKIE_AGE,
            secure=settings.LANGUAGE_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )
    return page

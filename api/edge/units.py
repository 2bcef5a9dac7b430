"""Lengths in the units that the reader of a page has chosen; what a program reads has one form."""

from django.http import HttpRequest, HttpResponseBase

from api.edge.middleware import Middleware
from api.wording.lengths import inches_first

COOKIE = "units"
MM, INCHES = "mm", "in"
UNITS = (MM, INCHES)


class UnitsMiddleware(Middleware):
    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        is_page = not request.path_info.startswith("/api/")
        marker = inches_first.set(is_page and request.COOKIES.get(COOKIE) == INCHES)
        try:
            return self.get_response(request)
        finally:
            inches_first.reset(marker)

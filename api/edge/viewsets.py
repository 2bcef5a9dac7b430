"""Base classes of views: one for records, one for calculators and single addresses."""

import unicodedata
from collections.abc import Collection, Mapping
from typing import Any, ClassVar

from django import forms
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponseBase, HttpResponseRedirect
from django.utils.cache import patch_cache_control, patch_vary_headers
from rest_framework import mixins, serializers
from rest_framework.exceptions import NotAcceptable
from rest_framework.metadata import BaseMetadata
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.parsers import BaseParser
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework.viewsets import GenericViewSet

from api.edge.auth import API_ROOT
from api.edge.caller import current_caller
from api.edge.concurrency import EtagCreateMixin, EtagDestroyMixin, EtagRetrieveMixin, EtagUpdateMixin
from api.edge.filtering import Listing, check_query, filter_strictly, read_query
from api.edge.list_files import RENDERERS, file_of, read_large_pages, wants_file
from api.edge.pagination import KeysetPagination
from api.edge.parsing import MergePatchParser
from api.edge.retries import with_retries
from api.edge.scope import visible_to_caller
from api.edge.throttling import add_rate_headers, release_slot

BODY_METHODS = frozenset({"POST", "PUT", "PATCH"})
CHANGING_METHODS = BODY_METHODS | {"DELETE"}


def wants_page(request: Request) -> bool:
    is_read = request.method in ("GET", "HEAD") and "format" not in request.query_params
    return is_read and "text/html" in request.headers.get("Accept", "")


class StrictNegotiation(DefaultContentNegotiation):
    """An unknown `format` is a form that cannot be given, not an address that does not exist."""

    def filter_renderers(self, renderers: Any, format: str) -> Any:
        fitting = [renderer for renderer in renderers if renderer.format == format]
        if not fitting:
            raise NotAcceptable()
        return fitting


class MethodsMetadata(BaseMetadata):
    """OPTIONS says which methods the address takes; the schema says the rest."""

    def determine_metadata(self, request: Request, view: APIView) -> dict[str, Any]:
        return {"methods": view.allowed_methods}


class StrictViewMixin(APIView):
    """Roles, strict queries and bodies, private answers."""

    content_negotiation_class = StrictNegotiation
    metadata_class = MethodsMetadata

    read_roles: ClassVar[Collection[str] | None] = None
    write_roles: ClassVar[Collection[str] | None] = ("manager",)
    action_roles: ClassVar[Mapping[str, Collection[str] | None]] = {}
    query_parameters: ClassVar[Collection[str]] = ()
    query_form: ClassVar[type[forms.Form] | None] = None
    query_forms: ClassVar[Mapping[str, type[forms.Form]]] = {}
    listings: ClassVar[Mapping[str, Listing]] = {}

    is_list: ClassVar[bool] = False
    """A single address (or action) whose answer is a list; the lists of records and below them are known as such."""

    rows_member: ClassVar[str] = "results"
    """Where such an answer has its rows."""

    listed_serializer: serializers.BaseSerializer[Any] | None = None

    is_costly: ClassVar[bool] = False
    """It works long: one caller may not ask for many of these at once."""

    def get_parsers(self) -> list[BaseParser]:
        parsers = super().get_parsers()
        method = getattr(getattr(self, "request", None), "method", "")
        return [*parsers, MergePatchParser()] if method == "PATCH" else parsers

    def answers_list(self) -> bool:
        action = getattr(self, "action", None) or ""
        return self.is_list or action == "list" or action in self.listings

    def get_renderers(self) -> list[BaseRenderer]:
        """A list is also given as a file."""
        return [*super().get_renderers(), *(one() for one in RENDERERS if self.answers_list())]

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """A change that lost against a concurrent one is tried again before the answer."""
        name = str(request.method).lower()
        if request.method in CHANGING_METHODS and hasattr(self, name):
            setattr(self, name, with_retries(getattr(self, name)))
        try:
            return super().dispatch(request, *args, **kwargs)
        finally:
            release_slot(getattr(self, "request", None))

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        if caller := current_caller():
            caller.use_request(request)
        super().initial(request, *args, **kwargs)
        # A key is stored with each accent in its letter, however it was typed.
        self.kwargs.update({name: unicodedata.normalize("NFC", str(value)) for name, value in kwargs.items()})
        if any("\x00" in str(value) for value in kwargs.values()):
            raise Http404  # No key holds NUL, and PostgreSQL does not even look for one.
        self.check_parameters(request)
        form = self.form_of_query()
        if wants_file(request) and (form is None or "limit" in form.base_fields):
            read_large_pages(request)
        if request.method in BODY_METHODS and hasattr(self, request.method.lower()):
            _ = request.data  # A bad body is refused even where none is needed.

    def check_parameters(self, request: Request) -> None:
        """Lists check their own; elsewhere what the form (or `query_parameters`) names is known."""
        action = getattr(self, "action", None) or ""
        if action == "list" or action in self.listings:
            return
        form = self.form_of_query()
        check_query(request, [*self.query_parameters, *(form.base_fields if form else ()), "format"])

    def read_query(self) -> dict[str, Any]:
        """The query as the form of this action (`query_forms`) or address (`query_form`) understands it."""
        form = self.form_of_query()
        return read_query(self.request, form) if form else {}

    def form_of_query(self) -> type[forms.Form] | None:
        return self.query_forms.get(getattr(self, "action", None) or "", self.query_form)

    def read(self, serializer_class: type[serializers.BaseSerializer[Any]], request: Request) -> Any:
        """The body as the serializer understands it; every bad field is named."""
        serializer = serializer_class(data=request.data, context={"request": request, "view": self})
        serializer.is_valid(raise_exception=True)
        return serializer.validated_data

    def list_of(self, rows: Any, serializer_class: type[serializers.BaseSerializer[Any]]) -> Response:
        """A page of rows below a record, filtered and ordered by the action's entry in `listings`."""
        listing = self.listings.get(getattr(self, "action", None) or "", Listing())
        if isinstance(rows, QuerySet):
            rows = filter_strictly(self.request, visible_to_caller(rows), listing)
        pager = KeysetPagination()
        page = pager.paginate_queryset(rows, self.request, listing)
        context = {"request": self.request, "view": self, "format": None}
        self.listed_serializer = serializer_class(context=context)
        return pager.get_paginated_response(serializer_class(page, many=True, context=context).data)

    def listed(self, shown: Any) -> Response:
        """The answer of a serializer that has the rows in `rows_member`."""
        self.listed_serializer = shown.fields[self.rows_member].child
        return Response(shown.data)

    def finalize_response(  # type: ignore[override]
        self, request: Request | HttpRequest, response: HttpResponseBase, *args: Any, **kwargs: Any
    ) -> HttpResponseBase:
        if isinstance(response, Response) and wants_file(self.request):
            if response.status_code == 200:
                response = self.as_file(response)
            else:  # A refusal, or the job that calculates the list.
                response.content_type = response.content_type or "application/json"
        final = super().finalize_response(request, response, *args, **kwargs)  # type: ignore[arg-type]
        add_rate_headers(final, request)
        if not final.has_header("Cache-Control"):
            patch_cache_control(final, private=True, no_cache=True)
        patch_vary_headers(final, ["Authorization", "Cookie", "Accept"])
        return final

    def as_file(self, page: Response) -> HttpResponseBase:
        handler = getattr(self, getattr(self, "action", None) or str(self.request.method).lower())
        serializer = self.listed_serializer
        if serializer is None and isinstance(self, GenericViewSet):
            serializer = self.get_serializer()
        return file_of(self, page, lambda: handler(self.request, *self.args, **self.kwargs), serializer)

    def handle_exception(self, exc: Exception) -> HttpResponseBase:  # type: ignore[override]
        """Who reads pages alone is led to the one that explains the address."""
        if isinstance(exc, NotAcceptable) and wants_page(self.request):
            resource = self.request.path.removeprefix(API_ROOT).split("/")[0]
            return HttpResponseRedirect(f"{API_ROOT}docs/{resource}/", status=303)
        return super().handle_exception(exc)


class StrictAPIView(StrictViewMixin):
    """For calculators and single addresses; any caller known may use it unless `write_roles` says less."""

    write_roles: ClassVar[Collection[str] | None] = None


class ReadOnlyResourceViewSet(StrictViewMixin, EtagRetrieveMixin, mixins.ListModelMixin, GenericViewSet[Any]):
    """List and single record. Set `queryset`, `serializer_class`, `filterset_class`, `ordering_fields`, `ordering`."""

    def get_queryset(self) -> Any:
        """Rows visible to the caller; override and call this to narrow them further."""
        return visible_to_caller(super().get_queryset())


class ResourceViewSet(EtagCreateMixin, EtagUpdateMixin, EtagDestroyMixin, ReadOnlyResourceViewSet):
    """All of it; leave methods out with `http_method_names`."""

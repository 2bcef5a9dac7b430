"""The API described by itself: OpenAPI 3.1, a page to read it on, and the index of addresses."""

from collections.abc import Iterator
from functools import cache
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.auth import API_ROOT
from api.edge.filtering import StrictFilterBackend, describe
from api.edge.openapi.names import SCHEMAS
from api.edge.openapi.responses import GIVES
from api.edge.pagination import KeysetPagination, query_parameter
from api.edge.viewsets import StrictAPIView

ONE_RECORD = ("create", "retrieve", "update", "partial_update", "upsert")


FORMAT = query_parameter(
    "format",
    {"$ref": f"{SCHEMAS}ListFormat"},
    "The form of the answer, also by `Accept`; a file has every row, without pages.",
)


def header(name: str, text: str, *, required: bool = False, pattern: str = "") -> dict[str, Any]:
    schema = {"type": "string"} | ({"pattern": pattern} if pattern else {})
    return {"name": name, "in": "header", "required": required, "description": text, "schema": schema}


class ResourceSchema(AutoSchema):
    """What the edges add to an operation: their headers, and the serializer that reads beside the one that shows."""

    def get_request_serializer(self) -> Any:
        written = getattr(self.view, "write_serializer_class", None)
        if written and getattr(self.view, "action", "") in ("create", "update", "partial_update"):
            return written
        return super().get_request_serializer()

    def get_operation(self, *args: Any, **kwargs: Any) -> Any:
        operation = super().get_operation(*args, **kwargs)
        if operation:
            named = [FORMAT if one["name"] == "format" else one for one in operation.get("parameters", [])]
            operation["parameters"] = named
            present = {(one["name"], one["in"]) for one in operation.get("parameters", [])}
            added = [*self.edge_headers(), *self.edge_queries()]
            fresh = [one for one in added if (one["name"], one["in"]) not in present]
            operation["parameters"] = [*operation.get("parameters", []), *fresh]
            operation[GIVES] = tuple(self.given_headers())
        return operation

    def given_headers(self) -> Iterator[str]:
        """Headers that the answers of this view have beside those of all."""
        action = getattr(self.view, "action", None) or ""
        handler = getattr(self.view, action or self.method.lower(), None)
        if action == "list" or action in getattr(self.view, "listings", {}):
            yield "Link"
        elif (
            action in ONE_RECORD
            or getattr(handler, "detail", False)
            or getattr(self.view, "gives_etag", False)
        ):
            yield "ETag"
        if self.method == "POST" and getattr(handler, "idempotency", None):
            yield from ("ETag", "Location", "Idempotency-Replayed")

    def edge_queries(self) -> list[dict[str, Any]]:
        """Query parameters that a form of the view, or a list below a record, understands."""
        action = getattr(self.view, "action", None) or ""
        if listing := getattr(self.view, "listings", {}).get(action):
            filters = StrictFilterBackend().get_schema_operation_parameters(listing)
            return [*filters, *KeysetPagination().get_schema_operation_parameters(listing)]
        form = getattr(self.view, "query_forms", {}).get(action, getattr(self.view, "query_form", None))
        return [describe(name, field) for name, field in form.base_fields.items()] if form else []

    def edge_headers(self) -> list[dict[str, Any]]:
        action = getattr(self.view, "action", None)
        if action in ("update", "partial_update", "destroy"):
            return [header("If-Match", "ETag of the record as it was read.", required=True)]
        if action == "retrieve":
            return [header("If-None-Match", "ETag already known; answered by 304 while it holds.")]
        handler = getattr(self.view, action or self.method.lower(), None)
        kind = getattr(handler, "idempotency", None)
        if kind is None or self.method != "POST":
            return []
        required = kind == "required" or bool(getattr(self.view, "requires_idempotency_key", False))
        text = "One key, one effect; the same key gets the same answer again, for 30 days."
        return [header("Idempotency-Key", text, required=required, pattern="^[!-~]{1,255}$")]


class BearerScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "api.edge.auth.TokenAuthentication"
    name = "bearer"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}


@cache
def document() -> dict[str, Any]:
    """Built once in a process; it holds no data of a caller."""
    built: dict[str, Any] = SchemaGenerator().get_schema(  # type: ignore[no-untyped-call]
        request=None, public=True
    )
    return built


@extend_schema(exclude=True)
class SchemaView(StrictAPIView):
    def get(self, request: Request) -> Response:
        return Response(document())


@extend_schema(exclude=True)
class IndexView(StrictAPIView):
    """Every address without a parameter, by its name."""

    def get(self, request: Request) -> Response:
        below = [one for one in get_resolver().url_patterns if f"/{one.pattern}".startswith(API_ROOT)]
        found = {
            route.strip("/"): request.build_absolute_uri(f"{API_ROOT}{route}")
            for path in plain_routes(below)
            if (route := path.removeprefix(API_ROOT.lstrip("/")))
        }
        return Response(dict(sorted(found.items())))


def plain_routes(patterns: list[URLPattern | URLResolver], before: str = "") -> Iterator[str]:
    for one in patterns:
        route = before + str(one.pattern).removeprefix("^").removesuffix("$")
        if isinstance(one, URLResolver):
            yield from plain_routes(one.url_patterns, route)
        elif route and not any(mark in route for mark in "<(\\"):
            yield route

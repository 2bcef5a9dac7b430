"""No lost change: every single resource has an ETag, and a change must name the one it was made from."""

import hashlib
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.db import connection, models, transaction
from django.http import HttpResponse, HttpResponseBase
from django.urls import NoReverseMatch, reverse
from django.utils.http import parse_etags
from rest_framework import serializers, status
from rest_framework.exceptions import PermissionDenied
from rest_framework.generics import GenericAPIView
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.change_log import log_change, log_creation, logging_deletion, values_of
from api.edge.errors import PreconditionFailed, PreconditionRequired, field_errors
from api.edge.idempotency import idempotent
from api.edge.scope import OUTSIDE_SCOPE, refuse_beyond_scope


def etag_of(data: Any) -> str:
    """Strong entity tag of a representation."""
    return etag_of_json(JSONRenderer().render(data))


def etag_of_json(rendered: bytes) -> str:
    return f'"{hashlib.sha256(rendered).hexdigest()[:32]}"'


def is_unchanged(request: Request, etag: str) -> bool:
    """Whether If-None-Match names the tag; compared weakly, as RFC 9110 asks for it."""
    known = parse_etags(request.headers.get("If-None-Match", ""))
    return "*" in known or etag in [one.removeprefix("W/") for one in known]


def check_if_match(request: Request, etag: str) -> None:
    """428 without If-Match, 412 with a stale one; weak tags never match."""
    given = request.headers.get("If-Match")
    if given is None:
        raise PreconditionRequired()
    known = parse_etags(given)
    if "*" not in known and etag not in known:
        raise PreconditionFailed()


def etag_response(request: Request, data: Any, code: int = status.HTTP_200_OK) -> HttpResponseBase:
    """An answer with its ETag; 304 for a reader that has it already."""
    rendered = JSONRenderer().render(data)
    etag = etag_of_json(rendered)
    if request.method in ("GET", "HEAD") and is_unchanged(request, etag):
        return HttpResponse(status=status.HTTP_304_NOT_MODIFIED, headers={"ETag": etag})
    response = Response(data, status=code, headers={"ETag": etag})
    response.kept_body = rendered  # type: ignore[attr-defined]
    return response


def lock_row(instance: models.Model) -> None:
    """Hold the row to the end of the transaction; SQLite holds its one write lock from the beginning."""
    if connection.features.has_select_for_update:
        manager = type(instance)._base_manager
        manager.select_for_update().filter(pk=instance.pk).order_by().values_list("pk").first()


def merged(standing: Any, patch: Any) -> Any:
    """Merge patch (RFC 7396) of a nested object; null stays, for the field to take as `no value`."""
    if not isinstance(standing, dict) or not isinstance(patch, dict):
        return patch
    return standing | {name: merged(standing.get(name), value) for name, value in patch.items()}


class RepresentationMixin(GenericAPIView[Any]):
    """`serializer_class` shows a record; `write_serializer_class`, where it is set, reads one."""

    write_serializer_class: type[serializers.BaseSerializer[Any]] | None = None

    def get_write_serializer(self, *args: Any, **kwargs: Any) -> serializers.BaseSerializer[Any]:
        serializer_class = self.write_serializer_class or self.get_serializer_class()
        return serializer_class(*args, context=self.get_serializer_context(), **kwargs)

    def represent(self, instance: Any) -> Any:
        return self.get_serializer(instance).data

    def fresh(self, instance: Any) -> Any:
        """The record as a reader would now get it, with what the queryset adds to it."""
        try:
            return self.get_queryset().get(pk=instance.pk)
        except ObjectDoesNotExist as error:
            raise PermissionDenied(OUTSIDE_SCOPE) from error

    def respond(self, instance: Any, code: int = status.HTTP_200_OK) -> HttpResponseBase:
        """The record as it stands now, with its ETag."""
        return etag_response(self.request, self.represent(self.fresh(instance)), code)

    def get_locked_object(self) -> Any:
        """The record of the address with its row held, its precondition met."""
        instance = self.get_object()
        if "If-Match" not in self.request.headers:
            raise PreconditionRequired()
        lock_row(instance)
        instance = self.get_object()
        check_if_match(self.request, etag_of(self.represent(instance)))
        return instance


class EtagRetrieveMixin(RepresentationMixin):
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
        return etag_response(request, self.represent(self.get_object()))


class EtagCreateMixin(RepresentationMixin):
    """201 with Location and ETag. `requires_idempotency_key = True` makes the key a must."""

    requires_idempotency_key = False

    def valid_body(self, request: Request) -> Any:
        # Before the body is looked at: that a key is taken would tell of a record that this caller may not see.
        refuse_beyond_scope(self.get_queryset().model)
        serializer = self.get_write_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        return serializer

    @idempotent(prepare=valid_body)
    def create(self, request: Request, serializer: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        written = self.perform_create(serializer)
        log_creation(written)
        instance = self.fresh(written)
        response = etag_response(request, self.represent(instance), status.HTTP_201_CREATED)
        if location := self.location_of(instance):
            response["Location"] = location
        return response

    def perform_create(self, serializer: Any) -> models.Model:
        """Override to call the module that writes the table; gives the record."""
        instance: models.Model = serializer.save()
        return instance

    def location_of(self, instance: Any) -> str:
        value = instance
        for part in self.lookup_field.split("__"):
            value = getattr(value, part)
        named = f"{getattr(self, 'basename', '')}-detail"
        try:
            path = reverse(named, kwargs={self.lookup_url_kwarg or self.lookup_field: value})
        except NoReverseMatch:
            return ""
        return self.request.build_absolute_uri(path)


class EtagUpdateMixin(RepresentationMixin):
    """PUT replaces, PATCH merges; the tag is checked with the row held, in the transaction of the change."""

    def update(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
        return self.change(request, partial=False)

    def partial_update(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
        return self.change(request, partial=True)

    def change(self, request: Request, *, partial: bool) -> HttpResponseBase:
        with transaction.atomic():
            instance = self.get_locked_object()
            data = request.data
            if not isinstance(data, dict):
                raise field_errors({"": "An object is expected here."})
            if partial and any(isinstance(value, dict) for value in data.values()):
                standing = self.represent(instance)
                data = {name: merged(standing.get(name), value) for name, value in data.items()}
            serializer = self.get_write_serializer(instance, data=data, partial=partial)
            serializer.is_valid(raise_exception=True)
            before = values_of(instance)
            changed = self.perform_update(serializer) or instance
            log_change(changed, before)
            return etag_response(request, self.represent(self.fresh(changed)))

    def perform_update(self, serializer: Any) -> Any:
        """Override to call the module that writes the table."""
        return serializer.save()


class EtagDestroyMixin(RepresentationMixin):
    def destroy(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
        with transaction.atomic():
            instance = self.get_locked_object()
            with logging_deletion([instance]):
                self.perform_destroy(instance)
        return HttpResponse(status=status.HTTP_204_NO_CONTENT)

    def perform_destroy(self, instance: Any) -> None:
        instance.delete()

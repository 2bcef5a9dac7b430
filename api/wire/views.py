"""Views of records, made from their declarations: filters, order, and who may write."""

import functools
import re
from collections.abc import Callable
from typing import Any, ClassVar

from django.db import models
from django.db.models import QuerySet
from django.http import Http404, HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.change_log import logging_changes
from api.edge.concurrency import etag_of
from api.edge.declarations import path_of
from api.edge.filtering import Listing, StrictFilterSet, TruthFilter, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.viewsets import ReadOnlyResourceViewSet, ResourceViewSet
from api.wire.declaration import ListForm, WireRecord, named_paths
from api.wire.serializers import serializer_of


class DeclaredView:
    """A view that says `record = ...`; what it sets itself comes before the declaration."""

    record: ClassVar[WireRecord]

    def __init_subclass__(cls, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        record: WireRecord | None = cls.__dict__.get("record")
        if record is None:
            return
        for name, value in options_of(record).items():
            if name not in cls.__dict__:
                setattr(cls, name, value)
        _views[record] = cls


class RecordViewSet(DeclaredView, ResourceViewSet):
    pass


class KeyedRecordViewSet(RecordViewSet):
    """The address of a record holds its natural key (`lookup_field`), which may have slashes in it, or its id."""

    lookup_value_regex = ".+?"

    def get_object(self) -> Any:
        rows = self.filter_queryset(self.get_queryset())
        given = str(self.kwargs[self.lookup_url_kwarg or self.lookup_field])
        found = rows.filter(**{self.lookup_field: given}).first()
        if found is None and re.fullmatch(rf"[0-9]{{1,{LONGEST_ID}}}", given):
            found = rows.filter(pk=int(given)).first()
        if found is None:
            raise Http404
        return found


class ReadRecordViewSet(DeclaredView, ReadOnlyResourceViewSet):
    """For records that are written by acts of their own."""


class SourceKeyViewSet(ReadRecordViewSet):
    """The address of a record holds its source and its number there; other systems write it with PUT."""

    lookup_field = "external_id"
    lookup_path = "<str:source>/<path:external_id>"

    def get_object(self) -> Any:
        found = self.get_queryset().filter(**self.kwargs).first()
        if found is None:
            raise Http404
        return found

    def upserted(self, instance: Any, *, created: bool, **more: Any) -> Response:
        """The record after the message, and what the message did."""
        shown = self.represent(self.fresh(instance))
        code = status.HTTP_201_CREATED if created else status.HTTP_200_OK
        return Response({**shown, **more}, status=code, headers={"ETag": etag_of(shown)})


LONGEST_ID = 18
Act = Callable[[Any, Any, dict[str, Any]], None]


def post_action(
    body: type[serializers.BaseSerializer[Any]],
    answers: type[serializers.BaseSerializer[Any]],
    *,
    needs_key: bool = False,
) -> Callable[[Act], Any]:
    """A POST below a record: the method gets the record and the values of the body; the changed record is the answer.

    The change log keeps what the method changed on the record.
    """

    def decorate(act: Act) -> Any:
        @functools.wraps(act)
        def handler(view: Any, request: Request, **address: str) -> HttpResponseBase:
            values = view.read(body, request)
            record = view.get_object()
            with logging_changes(type(record)._base_manager.filter(pk=record.pk)):
                act(view, record, values)
            found: HttpResponseBase = view.respond(record)
            return found

        posted = action(detail=True, methods=["post"], url_path=act.__name__.replace("_", "-"))(
            idempotent(required=needs_key)(handler)
        )
        return extend_schema(request=body, responses=answers)(posted)

    return decorate


_views: dict[WireRecord, type[DeclaredView]] = {}


def view_of(record: WireRecord) -> type[Any]:
    if record not in _views:
        written = KeyedRecordViewSet if record.is_keyed else RecordViewSet
        base: type[Any] = ReadRecordViewSet if record.is_read_only else written
        type(f"{record.model.__name__}ViewSet", (base,), {"record": record, "__doc__": record.list_text})
    return _views[record]


def options_of(record: WireRecord) -> dict[str, Any]:
    listed = record.listed or ListForm()
    options = {
        "queryset": rows_of(record),
        "serializer_class": serializer_of(record),
        "filterset_class": filterset_of(record),
        "ordering_fields": paths_of(record.model, listed.sortable),
        "ordering": tuple(listed.ordering.split()),
        "read_roles": record.read_roles,
        "write_roles": record.write_roles,
    }
    return options | ({"lookup_field": record.key} if record.is_keyed else {})


def listing_of(record: WireRecord, filterset_class: type[StrictFilterSet]) -> Listing:
    """The record as it is listed below another one."""
    options = options_of(record)
    return Listing(filterset_class, options["ordering_fields"], options["ordering"])


def rows_of(record: WireRecord) -> QuerySet[Any]:
    references = [name for name in record.names if is_reference(record.model, name)]
    paths = record.related.split() or references
    rows: QuerySet[Any] = record.model._default_manager.all()
    return rows.select_related(*paths) if paths else rows


def is_reference(model: type[models.Model], name: str) -> bool:
    return any(one.name == name and one.is_relation for one in model._meta.concrete_fields)


def paths_of(model: type[models.Model], names: str) -> dict[str, str]:
    return {name: path or path_of(model, name) for name, path in named_paths(names)}


def filterset_of(record: WireRecord, base: type[StrictFilterSet] = StrictFilterSet) -> type[StrictFilterSet]:
    listed = record.listed or ListForm()
    filters = {
        name: filter_of(record.model, path) for name, path in paths_of(record.model, listed.filters).items()
    }
    options = {
        "numbers": listed.ranges,
        "moments": dict(named_paths(listed.moments)),
        "days": tuple(listed.days.split()),
        "search_fields": listed.search.split(),
    }
    made: type[StrictFilterSet] = type(
        f"{record.model.__name__}Filter", (base,), {**options, **filters, **listed.more}
    )
    return made


def filter_of(model: type[models.Model], path: str) -> Any:
    field = field_at(model, path)
    if isinstance(field, models.BooleanField):
        return TruthFilter(path)
    return WordsFilter(path, choices=[str(value) for value, _ in field.flatchoices if value != ""])


def field_at(model: type[models.Model], path: str) -> Any:
    field: Any = None
    for name in path.split("__"):
        field = model._meta.get_field(name)
        model = field.related_model
    return field

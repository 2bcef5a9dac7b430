"""References to other records: a natural key or an id in, the natural key out."""

import functools
import unicodedata
from typing import Any, cast

from django.db.models import Model, Q, QuerySet
from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from rest_framework import serializers
from rest_framework.fields import empty

from api.edge.declarations import declared
from api.edge.scope import visible_to_caller
from api.wording.record_kinds import kind_for_programs
from drives.models import Area
from inventory.models import Item
from inventory.plumbing.prepared import PreparedQuery

LARGEST_ID = 2**63 - 1


class StrictReferenceMixin:
    """Empty text is not null: it refers to nothing that there is. What may not be seen is not there."""

    def get_queryset(self) -> Any:
        return visible_to_caller(super().get_queryset())  # type: ignore[misc]

    def run_validation(self, data: Any = empty) -> Any:
        return serializers.Field.run_validation(self, data)  # type: ignore[arg-type]


class ReferenceField(StrictReferenceMixin, serializers.RelatedField[Any, Any, Any]):
    """A record by its natural key, as its declaration says it. A merged stock number names the item that goes on."""

    follows_merges = True

    default_error_messages = {
        "does_not_exist": 'There is no {kind} "{value}".',
        "invalid": "The {slug} of a {kind} is expected here, or its id.",
    }

    def to_internal_value(self, data: Any) -> Any:
        rows = cast(QuerySet[Any], self.get_queryset())
        kind = kind_for_programs(rows.model)
        if isinstance(data, bool) or not isinstance(data, str | int):
            self.fail("invalid", slug=declared(rows.model).key_fields[-1], kind=kind)
        # A key is stored with each accent in its letter, however it was typed.
        found = self.look_up(rows, unicodedata.normalize("NFC", data) if isinstance(data, str) else data)
        if found is None:
            self.fail("does_not_exist", kind=kind, value=str(data)[:80])
        is_merged = self.follows_merges and isinstance(found, Item) and found.merged_into_id is not None
        return found.merged_into if is_merged else found

    def look_up(self, rows: QuerySet[Any], data: str | int) -> Any:
        if isinstance(data, int):
            return rows.filter(pk=data).first() if 0 < data <= LARGEST_ID else None
        key = declared(rows.model).key_fields[-1]
        if not rows.query.where and rows.model._meta.get_field(key).unique:
            return by_key(cast(Any, rows.model), key).first(data)
        return rows.filter(**{key: data}).first()

    def to_representation(self, value: Any) -> str:
        return str(getattr(value, declared(type(value)).key_fields[-1]))


class IdField(StrictReferenceMixin, serializers.PrimaryKeyRelatedField[Any]):
    """A reference to a record that has no natural key."""

    default_error_messages = {
        "does_not_exist": "There is no {kind} {pk_value}.",
        "incorrect_type": "The id of a record is expected here.",
    }

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("incorrect_type")
        rows = cast(QuerySet[Any], self.get_queryset())
        found = rows.filter(pk=data).first() if 0 < data <= LARGEST_ID else None
        if found is None:
            self.fail("does_not_exist", kind=kind_for_programs(rows.model), pk_value=data)
        return found


@functools.cache
def by_key(model: type[Model], key: str) -> PreparedQuery[Any]:
    return PreparedQuery(model._default_manager.all, key)


class AreaField(ReferenceField):
    """PLANT/AREA; the bare code of an area where only one plant has it."""

    default_error_messages = {
        "ambiguous": "More than one plant has an area {value}: give it as {first}.",
        "invalid": "An area is expected here as PLANT/AREA, or its id.",
    }

    def look_up(self, rows: QuerySet[Any], data: str | int) -> Any:
        if isinstance(data, int):
            return super().look_up(rows, data)
        plant, slash, code = data.rpartition("/")
        named = Q(code=code, plant__code=plant) if slash else Q(code=code)
        found = list(rows.select_related("plant").filter(named).order_by("plant__code")[:2])
        if len(found) > 1:
            self.fail("ambiguous", value=code, first=str(found[0]))
        return found[0] if found else None

    def to_representation(self, value: Any) -> str:
        return str(value)


def reference_class(model: type[Model]) -> type[StrictReferenceMixin]:
    if model is Area:
        return AreaField
    return ReferenceField if declared(model).key else IdField


def reference_to(model: type[Model], **kwargs: Any) -> ReferenceField:
    """A record that one column names; `optional=True` where it may be left out, `follows=False` where an old number is meant."""
    follows = kwargs.pop("follows", True)
    if kwargs.pop("optional", False):
        kwargs |= {"required": False, "allow_null": True}
    field = ReferenceField(queryset=model._default_manager.all(), **kwargs)
    field.follows_merges = follows
    return field


class ReferenceSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    target_class = "api.wire.references.ReferenceField"
    match_subclasses = True

    def map_serializer_field(self, auto_schema: AutoSchema, direction: str) -> dict[str, Any]:
        if direction == "response":
            return {"type": "string"}
        return {"oneOf": [{"type": "string", "minLength": 1}, {"type": "integer", "minimum": 1}]}


class IdSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    target_class = "api.wire.references.IdField"

    def map_serializer_field(self, auto_schema: AutoSchema, direction: str) -> dict[str, Any]:
        return {"type": "integer", "minimum": 1}

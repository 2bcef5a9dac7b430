"""Serializers that hold to the rules of their model, and bodies whose members are checked together."""

import copy
from collections.abc import Iterator, Mapping
from typing import Any

from django.db import models
from django.db.models import Q
from rest_framework.exceptions import ValidationError
from rest_framework.fields import SkipField
from rest_framework.validators import UniqueValidator

from api.edge.declarations import find_declaration
from api.edge.errors import detail_of
from api.edge.lengths import PLAUSIBLE
from api.edge.parsing import (
    LengthField,
    StrictCharField,
    StrictModelSerializer,
    StrictSerializer,
    StrictSerializerMixin,
    standing_record,
)
from api.wire.case_twins import in_other_case
from api.wire.declaration import WireRecord, named_paths
from api.wire.fields import (
    AnyCaseUnique,
    CodeField,
    HourField,
    KeyField,
    OptionalTextField,
    SizeField,
    TagField,
    WordField,
    spread_chain,
)
from api.wire.invariants import adopt_standard, broken_rules
from api.wire.references import reference_class
from inventory.facts import Fact
from inventory.models.engagement import ENGAGEMENT_LENGTHS, ChainEngagement

MemberErrors = dict[str, Any]
"""Facts or texts by the name of the member."""


def with_sentences(found: Any) -> Any:
    if not isinstance(found, list):
        return found
    return [detail_of(one) if isinstance(one, Fact) else one for one in found]


# The schema shows the docstring of a class, or of its base, as its description: on bases it is a comment.
# Checks members together, also if some of them are invalid, so that one error does not hide another.
class MemberChecksMixin(StrictSerializerMixin):
    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, Mapping):
            return super().to_internal_value(data)
        faults: MemberErrors = {}
        try:
            values = super().to_internal_value(data)
        except ValidationError as error:
            values, faults = self.sound_values(data), dict(error.detail)  # type: ignore[arg-type]
        for name, found in self.check_members(values, faults).items():
            faults.setdefault(name, with_sentences(found))
        if faults:
            raise ValidationError(faults)
        return values

    def sound_values(self, data: Mapping[str, Any]) -> dict[str, Any]:
        values = {}
        for field in self._writable_fields:  # type: ignore[attr-defined]
            try:
                values[field.source] = field.run_validation(field.get_value(data))
            except (ValidationError, SkipField):
                continue
        return values

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        """Errors between members; `values` may be completed here."""
        return {}


class BodySerializer(MemberChecksMixin, StrictSerializer):
    pass


class EmptyBodySerializer(BodySerializer):
    """No members."""


# A class that says `record = ...` has its members from there; what it names itself comes before. What a subclass of it
# names further is added at the end.
class DeclaredSerializer(StrictModelSerializer):
    record: WireRecord

    def __init_subclass__(cls, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        if (record := cls.__dict__.get("record")) is not None:
            cls.Meta = cls.meta_of(record)  # type: ignore[misc]
            _serializers[record] = cls
        elif added := [name for name in cls._declared_fields if name not in cls.Meta.fields]:
            cls.Meta = type("Meta", (cls.Meta,), {"fields": [*cls.Meta.fields, *added]})  # type: ignore[misc, assignment]

    @classmethod
    def meta_of(cls, record: WireRecord) -> type[Any]:
        names, read_only = list(record.names), record.read_only.split()
        return type("Meta", (), {"model": record.model, "fields": names, "read_only_fields": read_only})

    def get_fields(self) -> Any:
        given = self.record.members
        members = {name: given[name] for name in self.record.names if name in given}
        self._declared_fields = {**members, **self._declared_fields}
        return super().get_fields()

    def build_standard_field(self, field_name: str, model_field: Any) -> tuple[type[Any], dict[str, Any]]:
        built, kwargs = super().build_standard_field(field_name, model_field)
        if model_field.choices and model_field.blank:
            kwargs.pop("allow_blank", None)
            return WordField, kwargs
        return built, kwargs


# Written by acts of its own: every member is read only. A reference is shown as the natural key of its record.
class ReadSerializer(DeclaredSerializer):
    @classmethod
    def meta_of(cls, record: WireRecord) -> type[Any]:
        meta = super().meta_of(record)
        meta.read_only_fields = meta.fields
        return meta

    def get_fields(self) -> Any:
        paths = {name: StrictCharField(source=path, read_only=True) for name, path in self.paths()}
        empty = {name: OptionalTextField(read_only=True) for name in self.record.or_null.split()}
        self._declared_fields = {**paths, **empty, **self._declared_fields}
        return super().get_fields()

    def get_uniqueness_extra_kwargs(self, names: Any, declared: Any, extra: Any) -> tuple[Any, Any]:
        """Unique sets ask for values and defaults, which a reader does not need."""
        return extra, {}

    def paths(self) -> Iterator[tuple[str, str]]:
        return ((name, path) for name, path in named_paths(self.record.fields) if path)

    def build_relational_field(self, field_name: str, relation_info: Any) -> tuple[type[Any], dict[str, Any]]:
        declaration = find_declaration(relation_info.related_model)
        if not isinstance(declaration, WireRecord) or not declaration.is_keyed:
            return super().build_relational_field(field_name, relation_info)
        if relation_info.model_field.null:
            return KeyField, {"key": declaration.key}
        return StrictCharField, {"source": f"{field_name}.{declaration.key}", "read_only": True}


# References and bounds come from the model.
class WrittenSerializer(MemberChecksMixin, DeclaredSerializer):
    def build_relational_field(self, field_name: str, relation_info: Any) -> tuple[type[Any], dict[str, Any]]:
        column, target = relation_info.model_field, relation_info.related_model
        optional = {"required": False, "allow_null": True} if column.null else {}
        return reference_class(target), {"queryset": target._default_manager.all(), **optional}

    def build_standard_field(self, field_name: str, model_field: Any) -> tuple[type[Any], dict[str, Any]]:
        built, kwargs = super().build_standard_field(field_name, model_field)
        if built is LengthField and field_name in PLAUSIBLE:
            return SizeField, kwargs | {"name": field_name}
        if isinstance(model_field, models.IntegerField | models.DecimalField | models.FloatField):
            kwargs |= bounds_of(model_field.model, model_field.name)
        return built, kwargs


# What an act is given: some columns of its record. The writer of the record looks for one with the same key.
class ActSerializer(WrittenSerializer):
    def build_standard_field(self, field_name: str, model_field: Any) -> tuple[type[Any], dict[str, Any]]:
        built, kwargs = super().build_standard_field(field_name, model_field)
        if built is StrictCharField and model_field.blank:
            return OptionalTextField, {"max_length": model_field.max_length}
        return built, kwargs

    def get_validators(self) -> list[Any]:
        return []

    def get_uniqueness_extra_kwargs(self, names: Any, declared: Any, extra: Any) -> tuple[Any, Any]:
        return extra, {}


# Rules come from the model too; PUT takes what is left out as not known.
class RecordSerializer(WrittenSerializer):
    serializer_field_mapping = {
        **StrictModelSerializer.serializer_field_mapping,
        models.SlugField: CodeField,
        models.TimeField: HourField,
    }

    def build_standard_field(self, field_name: str, model_field: Any) -> tuple[type[Any], dict[str, Any]]:
        built, kwargs = super().build_standard_field(field_name, model_field)
        if isinstance(model_field, models.CharField) and model_field.unique and built is StrictCharField:
            kwargs["validators"] = [
                AnyCaseUnique(one.queryset, one.message) if isinstance(one, UniqueValidator) else one
                for one in kwargs.get("validators", ())
            ]
            return TagField, kwargs
        return built, kwargs

    def to_internal_value(self, data: Any) -> Any:
        self.stray: MemberErrors = {}
        if isinstance(data, Mapping) and issubclass(self.model, ChainEngagement):
            data, self.stray = spread_chain(data)
        values = super().to_internal_value(data)
        if not self.root.partial:
            for name, column in self.columns().items():
                values.setdefault(name, column.get_default())
        return values

    @property
    def model(self) -> type[models.Model]:
        model: type[models.Model] = self.Meta.model
        return model

    def columns(self) -> dict[str, Any]:
        """The writable members that are columns of the record."""
        known = {column.name: column for column in self.model._meta.concrete_fields}
        sources = [field.source for field in self.fields.values() if not field.read_only]
        return {source: known[source] for source in sources if source in known}

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        draft = self.draft(values)
        names = {field.source: name for name, field in self.fields.items()}
        found: MemberErrors = {**self.stray}
        for source, broken in [*adopt_standard(draft), *broken_rules(draft), *in_other_case(draft)]:
            found.setdefault(names.get(source, "non_field_errors"), []).append(broken)
        if isinstance(draft, ChainEngagement):
            values |= {name: getattr(draft, name) for name in ("chain_designation", *ENGAGEMENT_LENGTHS)}
        return found

    def draft(self, values: Mapping[str, Any]) -> models.Model:
        """The record as it would be, not saved."""
        standing = standing_record(self)
        if standing is not None and self.root.partial:
            draft: models.Model = copy.copy(standing)
        else:
            draft = self.model(pk=getattr(standing, "pk", None))
        if isinstance(draft, ChainEngagement):
            self.forget_dimensions(draft, values)
        for name in self.columns():
            if name in values:
                setattr(draft, name, values[name])
        return draft

    @staticmethod
    def forget_dimensions(draft: ChainEngagement, values: Mapping[str, Any]) -> None:
        """Another chain brings its own dimensions."""
        if values.get("chain_designation", draft.chain_designation) not in ("", draft.chain_designation):
            for name in ENGAGEMENT_LENGTHS:
                setattr(draft, name, None)


_serializers: dict[WireRecord, type[DeclaredSerializer]] = {}


def serializer_of(record: WireRecord) -> type[DeclaredSerializer]:
    """The class that says `record = ...`, or one made from the declaration alone."""
    if record not in _serializers:
        name = f"{record.model.__name__}Serializer"
        base = ReadSerializer if record.is_read_only else RecordSerializer
        type(name, (base,), {"record": record, "__doc__": record.text})
    return _serializers[record]


def bounds_of(model: type[models.Model], name: str) -> dict[str, Any]:
    """The bounds that a constraint of the model sets to one column, as a field of a serializer takes them."""
    bounds = {}
    for constraint in model._meta.constraints:
        if isinstance(constraint, models.CheckConstraint):
            for path, value in comparisons(constraint.condition):
                if path in (f"{name}__gte", f"{name}__gt") and isinstance(value, int | float):
                    bounds["min_value"] = value
                elif path == f"{name}__lte" and isinstance(value, int | float):
                    bounds["max_value"] = value
    return bounds


def comparisons(condition: Any) -> Iterator[tuple[str, Any]]:
    for child in condition.children:
        if isinstance(child, Q):
            yield from comparisons(child)
        else:
            yield child

"""Columns of files out of a record's declaration and its fields, so that a length or a bound is stated in one place only."""

from collections.abc import Callable
from decimal import Decimal
from functools import cache
from typing import Any

from django.core.validators import MaxLengthValidator
from django.db import models

from api.edge.declarations import declared
from api.edge.lengths import PLAUSIBLE
from api.wire import cells
from api.wire.declaration import STAMPS, Column, FileForm, Lookup, Parser, WireRecord
from api.wording.record_kinds import kind_for_programs

LONGEST_NOTE = 4_000
DESIGNATIONS = {"chain_designation", "bush_size", "material_grade"}
FREE_WORDS = "name description note phone maker site installed_why cause part approved_by reason"
LONGEST_KEY = 60
LONGEST_REFERENCE = 120


@cache
def columns_of(record: WireRecord) -> tuple[Column, ...]:
    """A column for each name, read as the field of that name (or of the renamed one) would have it."""
    form = record.file or FileForm(0)
    names = form.columns.split() or [name for name in record.names if is_written(record, name)]
    return tuple(form.given.get(name) or column_of(record, form, name) for name in names)


def is_written(record: WireRecord, name: str) -> bool:
    columns = {column.name for column in record.model._meta.concrete_fields}
    return record.renamed.get(name, name) in columns and name not in STAMPS | set(record.read_only.split())


def column_of(record: WireRecord, form: FileForm, name: str) -> Column:
    field_name = record.renamed.get(name, name)
    if field_name not in {one.name for one in record.model._meta.concrete_fields}:
        # It only helps to find the record of another column, such as the plant of an area.
        return Column(name, "", cells.Code(LONGEST_KEY), required=True)
    field: Any = record.model._meta.get_field(field_name)
    lookup = lookup_of(record, form, field) if field.is_relation else None
    parse = form.parsers.get(name) or (cells.Code(LONGEST_REFERENCE) if lookup else parser_of(field))
    is_required = name in form.required.split() or must_be_given(field)
    blank = None if lookup or is_required else blank_of(field)
    decimal = isinstance(field, models.DecimalField | models.FloatField)
    return Column(name, field_name, parse, is_required, blank, lookup, decimal)


def lookup_of(record: WireRecord, form: FileForm, field: Any) -> Lookup:
    """A record is found by its natural key: each part of it that is itself a reference stands in a column of its own."""
    target = field.related_model
    *outer, last = declared(target).key_fields
    codes = [
        f"{name}__{declared(target._meta.get_field(name).related_model).key_fields[-1]}" for name in outer
    ]
    return Lookup(
        target,
        (*codes, last),
        (*outer, field.name),
        kind_for_programs(target),
        in_file=target is record.model,
        related=form.related.get(field.name, ()),
    )


def must_be_given(field: "models.Field[Any, Any]") -> bool:
    return not (field.null or field.blank or field.has_default())


def blank_of(field: "models.Field[Any, Any]") -> Any:
    """What an empty cell writes: not known where the record can say so, else the record's default."""
    return None if field.null else field.get_default()


def parser_of(field: "models.Field[Any, Any]") -> Parser:
    if field.choices and not isinstance(field, models.IntegerField):
        return cells.Word(tuple(str(value) for value, _ in field.flatchoices if value != ""))
    return PARSERS[field.get_internal_type()](field)


def decimal_parser(field: Any) -> Parser:
    places = field.decimal_places
    most = Decimal(10) ** (field.max_digits - places) - Decimal(1).scaleb(-places)
    if field.name in PLAUSIBLE:
        return cells.LengthMm(places, Decimal(0), most, PLAUSIBLE[field.name])
    if field.name.endswith("_mm"):
        return cells.LengthMm(places, -most, most)
    return cells.Number(places, Decimal(0) if "cost" in field.name else -most, most)


def float_parser(field: Any) -> Parser:
    number = cells.Number(12, Decimal(-(10**9)), Decimal(10**9))
    return lambda cell: float(number(cell))


def text_parser(field: Any) -> Parser:
    if field.name == "timezone":
        return cells.timezone
    if field.name == "currency":
        return cells.currency
    longest = next(v.limit_value for v in field.validators if isinstance(v, MaxLengthValidator))
    if field.name in FREE_WORDS.split():
        return cells.Text(longest)
    return (
        cells.Designation(longest) if field.name in DESIGNATIONS else cells.Code(longest, is_key=field.unique)
    )


PARSERS: dict[str, Callable[[Any], Parser]] = {
    "DecimalField": decimal_parser,
    "FloatField": float_parser,
    "CharField": text_parser,
    "SlugField": lambda field: cells.Code(field.max_length, words_only=True),
    "TextField": lambda field: cells.Text(LONGEST_NOTE, lines=True),
    "BooleanField": lambda field: cells.boolean,
    "DateField": lambda field: cells.day,
    "DateTimeField": lambda field: cells.moment,
    "TimeField": lambda field: cells.hour,
    # What both databases hold.
    "PositiveSmallIntegerField": lambda field: cells.Whole(0, 32_767),
    "PositiveIntegerField": lambda field: cells.Whole(0, 2_147_483_647),
}

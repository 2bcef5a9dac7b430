"""Columns out of the records' own fields, so that a length or a bound is stated in one place only."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.validators import MaxLengthValidator
from django.db import models

from api.edge.lengths import PLAUSIBLE
from api.exchange import cells
from api.exchange.cells import Cell

Parser = Callable[[Cell], Any]
LARGEST_WHOLE = {
    "PositiveSmallIntegerField": 32_767,
    "PositiveIntegerField": 2_147_483_647,
}
"""What both databases hold."""
LONGEST_NOTE = 4_000
DESIGNATIONS = {"chain_designation", "bush_size", "material_grade"}
FREE_WORDS = {
    "name",
    "description",
    "note",
    "phone",
    "maker",
    "site",
    "installed_why",
    "cause",
    "part",
    "approved_by",
    "reason",
}


@dataclass(frozen=True)
class Lookup:
    """How a reference is found: the record, the fields of its natural key, and the columns that hold them."""

    model: type[models.Model]
    fields: tuple[str, ...]
    columns: tuple[str, ...]
    what: str
    in_file: bool = False
    related: tuple[str, ...] = ()
    """Records that the writer needs beside each one found."""


@dataclass(frozen=True)
class Column:
    """One column of a file: what it writes, how its cells are read, and what an empty cell means."""

    name: str
    field: str
    parse: Parser
    required: bool = False
    blank: Any = None
    lookup: Lookup | None = None
    decimal: bool = False


def columns_of(
    model: type[models.Model],
    names: str,
    *,
    required: str = "",
    renamed: Mapping[str, str] | None = None,
    parsers: Mapping[str, Parser] | None = None,
    lookups: Mapping[str, Lookup] | None = None,
) -> tuple[Column, ...]:
    """A column for each name, read as the field of that name (or of the renamed one) would have it."""
    found = []
    for name in names.split():
        field_name = (renamed or {}).get(name, name)
        lookup = (lookups or {}).get(name)
        field = model._meta.get_field(field_name)
        assert isinstance(field, models.Field)
        parse = (parsers or {}).get(name) or (cells.Code(120) if lookup else parser_of(field))
        is_required = name in required.split() or (not lookup and must_be_given(field))
        blank = None if lookup or is_required else blank_of(field)
        decimal = isinstance(field, models.DecimalField | models.FloatField)
        found.append(Column(name, field_name, parse, is_required, blank, lookup, decimal))
    return tuple(found)


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
    if field.name in FREE_WORDS:
        return cells.Text(longest)
    return cells.Designation(longest) if field.name in DESIGNATIONS else cells.Code(longest)


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
    "PositiveSmallIntegerField": lambda field: cells.Whole(0, LARGEST_WHOLE[field.get_internal_type()]),
    "PositiveIntegerField": lambda field: cells.Whole(0, LARGEST_WHOLE[field.get_internal_type()]),
}

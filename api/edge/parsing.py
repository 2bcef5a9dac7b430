"""Reading bodies strictly: what is not understood is refused with a sentence and a pointer, never guessed."""

import copy
import json
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from email.message import Message
from typing import IO, Any, ClassVar, NoReturn, cast

from django.conf import settings
from django.db import models
from django.utils.functional import cached_property
from rapidfuzz import process
from rest_framework import serializers
from rest_framework.exceptions import ParseError, UnsupportedMediaType, ValidationError
from rest_framework.parsers import BaseParser
from rest_framework.renderers import JSONRenderer
from rest_framework.utils.serializer_helpers import BindingDict

from api.edge.errors import PayloadTooLarge, field_errors, pointer
from api.edge.lengths import INCH

MAX_DEPTH = 64
MAX_NUMBER_LENGTH = 400
BYTE_ORDER_MARKS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")
# A string (ended or not) is skipped as a whole, in linear time; outside one, only brackets are of interest.
BRACKETS = re.compile(r'"(?:[^"\\]++|\\.)*+(?:"|\\?\Z)|[\[\]{}]', re.DOTALL)


class StrictJSONParser(BaseParser):
    media_type = "application/json"

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        refuse_charset(media_type or self.media_type)
        limit = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        body = stream.read(limit + 1)
        if len(body) > limit:
            raise PayloadTooLarge(f"The body is larger than {limit} bytes.")
        return parse_json(body)


class MergePatchParser(StrictJSONParser):
    """RFC 7396; a view takes it on PATCH alone."""

    media_type = "application/merge-patch+json"


def refuse_charset(media_type: str) -> None:
    header = Message()
    header["content-type"] = media_type
    charset = header.get_param("charset")
    if charset and str(charset).lower() not in ("utf-8", "utf8"):
        raise UnsupportedMediaType(media_type, "JSON is read as UTF-8 alone.")


def parse_json(body: bytes) -> Any:
    """Object or list in a JSON body, free of everything two readers could understand differently."""
    if body.startswith(BYTE_ORDER_MARKS):
        raise ParseError("The body begins with a byte order mark; send plain UTF-8.")
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ParseError(f"The body is not UTF-8 (byte {error.start}).") from error
    refuse_depth(text)
    try:
        document = json.loads(
            text,
            object_pairs_hook=unique_members,
            parse_constant=refuse_constant,
            parse_float=finite,
            parse_int=whole,
        )
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise ParseError(f"The body is not JSON: {error.msg} ({where}).") from error
    except RecursionError as error:
        raise ParseError("The body is nested too deeply.") from error
    if not isinstance(document, dict | list):
        raise ParseError("The body must be an object or a list.")
    refuse_bad_text(document, text)
    return document


def refuse_depth(text: str) -> None:
    if text.count("[") + text.count("{") <= MAX_DEPTH:
        return
    depth = 0
    for found in BRACKETS.finditer(text):
        mark = found.group()
        if mark in "[{":
            depth += 1
            if depth > MAX_DEPTH:
                raise ParseError(f"The body is nested more than {MAX_DEPTH} levels deep.")
        elif mark in "]}":
            depth -= 1


def unique_members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        twice, _ = Counter(name for name, _ in pairs).most_common(1)[0]
        raise ParseError(f"The member {printable(twice)} is given more than once in one object.")
    return members


def printable(name: str) -> str:
    return json.dumps(name[:80])


def refuse_constant(name: str) -> NoReturn:
    raise ParseError(f"{name} is not a number that JSON knows.")


def finite(text: str) -> float:
    value = float(text) if len(text) <= MAX_NUMBER_LENGTH else math.inf
    if not math.isfinite(value):
        raise ParseError(f"The number {text[:20]} is too large.")
    return value


def whole(text: str) -> int:
    if len(text) > MAX_NUMBER_LENGTH:
        raise ParseError(f"The number {text[:20]}… is too large.")
    return int(text)


def refuse_bad_text(document: Any, text: str) -> None:
    """NUL and halves of surrogate pairs can only come in as escapes."""
    if "\\u" not in text:
        return
    bad = {at: reason for at, value in strings(document) if (reason := fault_of(value))}
    if bad:
        raise field_errors({at.encode("utf-8", "replace").decode(): reason for at, reason in bad.items()})


def fault_of(value: str) -> str:
    if "\x00" in value:
        return "Text must not contain the character NUL."
    if any("\ud800" <= letter <= "\udfff" for letter in value):
        return "Text must not contain half of a surrogate pair."
    return ""


def strings(value: Any, at: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, str):
        yield at, value
    elif isinstance(value, list):
        for index, one in enumerate(value):
            yield from strings(one, at + pointer(index))
    elif isinstance(value, dict):
        for name, one in value.items():
            yield at + pointer(name), name
            yield from strings(one, at + pointer(name))


def closest(name: str, known: Iterable[str]) -> str | None:
    """The known name most like the given one; None where none is near."""
    found = process.extractOne(name[:80], sorted(known), score_cutoff=65)
    return str(found[0]) if found else None


def nearest(name: str, known: Iterable[str]) -> str:
    """A sentence that offers the closest known name; empty where none is near."""
    found = closest(name, known)
    return f' Did you mean "{found}"?' if found else ""


_made_fields: dict[type, dict[str, Any]] = {}


def made_once(serializer: Any, fields: dict[str, Any]) -> dict[str, Any]:
    """Bound, but to no serializer: what binding sets besides its parent follows from the class."""
    for name, field in fields.items():
        if not is_nest(field):
            field.bind(name, serializer)
            field.parent = None
    return fields


def is_nest(field: Any) -> bool:
    """Whether it has fields inside, which know it as their parent: such a one is copied as the rest framework does it."""
    return (
        isinstance(field, serializers.BaseSerializer)
        or hasattr(field, "child")
        or hasattr(field, "child_relation")
    )


# Refuses unknown members by name, and members that the service sets unless they repeat what stands.
class StrictSerializerMixin:
    default_error_messages: ClassVar[dict[str, Any]] = {
        "invalid": "An object is expected here, not {datatype}."
    }

    @cached_property
    def fields(self) -> BindingDict:
        """The members follow from the class alone: they are made once, and every serializer binds copies of its own."""
        own = type(self)
        if own not in _made_fields:
            _made_fields[own] = made_once(self, self.get_fields())  # type: ignore[attr-defined]
        found = BindingDict(cast(Any, self))
        for name, field in _made_fields[own].items():
            if is_nest(field):
                found[name] = copy.deepcopy(field)
            else:
                found.fields[name] = copied = object.__new__(type(field))
                copied.__dict__.update(field.__dict__, parent=self)
        return found

    def to_internal_value(self, data: Any) -> Any:
        refused = self.refused_members(data) if isinstance(data, Mapping) else {}
        try:
            value = super().to_internal_value(data)  # type: ignore[misc]
        except ValidationError as error:
            if not isinstance(error.detail, dict):
                raise
            raise ValidationError({**refused, **error.detail}) from error
        if refused:
            raise ValidationError(refused)
        return value

    def refused_members(self, data: Mapping[str, Any]) -> dict[str, Any]:
        fields: Mapping[str, Any] = self.fields
        refused: dict[str, Any] = {}
        for name in data:
            if name not in fields:
                writable = [known for known, field in fields.items() if not field.read_only]
                refused[str(name)] = [f"There is no such member.{nearest(str(name), writable)}"]
        set_here = [name for name in data if name in fields and fields[name].read_only]
        if set_here:
            present = self.present()
            for name in set_here:
                if name not in present or present[name] != data[name]:
                    refused[name] = ["This is set by the service and cannot be changed here."]
        return refused

    def present(self) -> dict[str, Any]:
        """The representation that stands, as JSON gives it; a PUT may repeat its read-only members."""
        record = standing_record(self)
        if record is None:
            return {}
        shown: dict[str, Any] = json.loads(
            JSONRenderer().render(self.to_representation(record))  # type: ignore[attr-defined]
        )
        return shown


def standing_record(serializer: Any) -> Any:
    if getattr(serializer, "instance", None) is not None:
        return serializer.instance
    parent = getattr(serializer, "parent", None)
    if not isinstance(parent, StrictSerializerMixin):
        return None
    record = standing_record(parent)
    return None if record is None else serializer.get_attribute(record)


def is_number(data: Any) -> bool:
    return isinstance(data, int | float | Decimal) and not isinstance(data, bool)


class StrictFloatField(serializers.FloatField):
    """A finite JSON number; text and truth values are no numbers."""

    default_error_messages = {
        "invalid": "A number is expected here.",
        "not_finite": "The number must be finite and below 1e300.",
    }

    def to_internal_value(self, data: Any) -> float:
        if not is_number(data):
            self.fail("invalid")
        try:
            value = float(data)
        except OverflowError:
            self.fail("not_finite")
        if not abs(value) < 1e300:
            self.fail("not_finite")
        return value + 0.0  # A negative zero becomes plain zero.


class StrictIntegerField(serializers.IntegerField):
    """A whole JSON number that both databases can store."""

    default_error_messages = {"invalid": "A whole number is expected here."}

    def __init__(self, **kwargs: Any) -> None:
        kwargs["min_value"] = kwargs.get("min_value") if kwargs.get("min_value") is not None else -(2**31)
        kwargs["max_value"] = kwargs.get("max_value") if kwargs.get("max_value") is not None else 2**31 - 1
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> int:
        if not is_number(data) or (isinstance(data, float) and not data.is_integer()):
            self.fail("invalid")
        return int(data)


class StrictBooleanField(serializers.BooleanField):
    default_error_messages = {"invalid": "true or false is expected here."}

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("invalid")
        return data


class StrictCharField(serializers.CharField):
    default_error_messages = {"invalid": "Text is expected here."}

    def __init__(self, **kwargs: Any) -> None:
        kwargs["max_length"] = kwargs.get("max_length") or 2_000
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        return super().to_internal_value(data)


class StrictChoiceField(serializers.ChoiceField):
    """One of the words of the vocabulary; the refusal lists them."""

    default_error_messages = {"invalid_choice": '"{input}" is not one of: {allowed}.{nearest}'}

    def to_internal_value(self, data: Any) -> Any:
        if data == "" and self.allow_blank:
            return ""
        if not isinstance(data, str) or data not in self.choices:
            words = [str(word) for word in self.choices]
            near = nearest(data, words) if isinstance(data, str) else ""
            self.fail("invalid_choice", input=str(data)[:80], allowed=", ".join(words), nearest=near)
        return data


class StrictDecimalField(serializers.DecimalField):
    """Empty text is not null: it is refused as what it is."""

    def validate_empty_values(self, data: Any) -> tuple[bool, Any]:
        return serializers.Field.validate_empty_values(self, data)


class NumberField(StrictDecimalField):
    """A decimal that travels as a JSON number, exact to its places."""

    default_error_messages = {
        "invalid": "A number is expected here.",
        "too_fine": "At most {places} decimal places are kept.",
        "too_large": "The number is too large.",
    }

    def __init__(self, *, max_digits: int = 15, decimal_places: int = 6, **kwargs: Any) -> None:
        kwargs["coerce_to_string"] = False
        super().__init__(max_digits, decimal_places, **kwargs)

    def to_internal_value(self, data: Any) -> Decimal:
        places = self.decimal_places or 0
        if not is_number(data):
            self.fail("invalid")
        if not abs(data) < 10 ** ((self.max_digits or 15) - places):
            self.fail("too_large")
        given = Decimal(repr(data))
        kept = given.quantize(Decimal(1).scaleb(-places))
        # What binary arithmetic leaves behind (19.049999999999997 for 0.75 x 25.4) is noise, not a finer measure.
        if abs(given - kept) > abs(given) * Decimal("1e-14"):
            self.fail("too_fine", places=places)
        return kept + 0

    def to_representation(self, value: Any) -> float:  # type: ignore[override]
        return float(value)


class LengthField(NumberField):
    """A length in millimetres within a plausible range; outside it the refusal asks what was meant."""

    def __init__(self, *, min_mm: float = 0.001, max_mm: float = 10_000, **kwargs: Any) -> None:
        self.low, self.high = Decimal(str(min_mm)), Decimal(str(max_mm))
        super().__init__(max_digits=kwargs.pop("max_digits", 12), **kwargs)

    def to_internal_value(self, data: Any) -> Decimal:
        value = super().to_internal_value(data)
        if self.low <= value <= self.high:
            return value
        raise ValidationError(self.doubt(value), code="implausible")

    def doubt(self, value: Decimal) -> str:
        outside = (
            f"{value.normalize():f} mm is outside {self.low.normalize():f} to {self.high.normalize():f} mm."
        )
        converted = value * INCH
        if 0 < value < self.low and self.low <= converted <= self.high:
            return f"{outside} Is that inches? {value.normalize():f} in is {converted.normalize():f} mm."
        return f"{outside} Is the value in millimetres?"


class MoneyField(StrictDecimalField):
    """An amount as a decimal string; its currency stands in the sibling field."""

    default_error_messages = {"invalid": 'An amount is expected here as text, such as "12.50".'}

    def __init__(self, *, max_digits: int = 14, decimal_places: int = 2, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", Decimal(0))
        super().__init__(max_digits, decimal_places, coerce_to_string=True, **kwargs)

    def to_internal_value(self, data: Any) -> Decimal:
        if not isinstance(data, str) or not re.fullmatch(r"-?[0-9]{1,20}(\.[0-9]{1,10})?", data):
            self.fail("invalid")
        return super().to_internal_value(data)


RFC_3339 = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,12})?([Zz]|[+-][0-9]{2}:[0-9]{2})"
)


def moment(text: str) -> datetime | None:
    """The UTC time of an RFC 3339 text with an offset; None for anything else."""
    if not RFC_3339.fullmatch(text):
        return None
    try:
        return datetime.fromisoformat(text.upper().replace(" ", "T")).astimezone(UTC)
    except (ValueError, OverflowError):
        return None


class UtcDateTimeField(serializers.DateTimeField):
    default_error_messages = {
        "invalid": "A time with its offset is expected here, such as 2026-03-01T14:30:00+01:00."
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(default_timezone=UTC, **kwargs)

    def to_internal_value(self, value: Any) -> datetime:
        found = moment(value) if isinstance(value, str) else None
        if found is None:
            self.fail("invalid")
        return found


class StrictDateField(serializers.DateField):
    default_error_messages = {"invalid": "A date is expected here, such as 2026-03-01."}

    def to_internal_value(self, value: Any) -> date:
        if not isinstance(value, str) or not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            self.fail("invalid")
        return super().to_internal_value(value)


# For bodies that are no record.
class StrictSerializer(StrictSerializerMixin, serializers.Serializer[Any]):
    pass


MONEY = (14, 2)
"""Digits and places of every amount: no other decimal has both."""


# Builds the strict fields; a decimal named `*_mm` is a length, one of 14 digits an amount of money.
# The schema shows the docstring of a base as the description of a record: here it is a comment.
class StrictModelSerializer(StrictSerializerMixin, serializers.ModelSerializer[Any]):
    serializer_field_mapping = {
        **serializers.ModelSerializer.serializer_field_mapping,
        **dict.fromkeys(
            (
                models.IntegerField,
                models.BigIntegerField,
                models.PositiveIntegerField,
                models.PositiveBigIntegerField,
                models.PositiveSmallIntegerField,
                models.SmallIntegerField,
            ),
            StrictIntegerField,
        ),
        models.FloatField: StrictFloatField,
        models.DecimalField: NumberField,
        models.BooleanField: StrictBooleanField,
        models.CharField: StrictCharField,
        models.TextField: StrictCharField,
        models.DateTimeField: UtcDateTimeField,
        models.DateField: StrictDateField,
    }
    serializer_choice_field = StrictChoiceField

    def build_standard_field(self, field_name: str, model_field: Any) -> tuple[type[Any], dict[str, Any]]:
        built, kwargs = super().build_standard_field(field_name, model_field)
        if built is NumberField and field_name.endswith("_mm"):
            built = LengthField
        if built is NumberField and (model_field.max_digits, model_field.decimal_places) == MONEY:
            built = MoneyField
        return built, kwargs

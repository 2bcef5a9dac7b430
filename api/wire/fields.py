"""Members of a record as they travel: sizes, words, codes, the chain. What is not known is null."""

import re
import unicodedata
from collections.abc import Mapping
from datetime import time
from decimal import Decimal
from typing import Any

from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.fields import empty
from rest_framework.validators import UniqueValidator

from api.edge.errors import detail_of
from api.edge.lengths import PLAUSIBLE
from api.edge.parsing import LengthField, NumberField, StrictCharField, StrictChoiceField, standing_record
from api.wire.cells import KEY, LOOK_LIKE_LATIN, foreign_letter
from inventory.facts import fact
from inventory.models.engagement import ENGAGEMENT_LENGTHS
from inventory.models.text_index import normal_forms
from inventory.standards.chains import UnknownChain, find_chain

CODE = r"^[-a-zA-Z0-9_]+$"
TIME = r"^([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?$"
INVISIBLE = frozenset({"Cc", "Cf", "Zl", "Zp"})


class SizeField(LengthField):
    """A length within what is plausible for the member of that name; an inch value raises its question."""

    def __init__(self, *, name: str, **kwargs: Any) -> None:
        usual = PLAUSIBLE[name]
        super().__init__(min_mm=float(usual.from_mm), max_mm=float(usual.to_mm), **kwargs)

    def to_internal_value(self, data: Any) -> Decimal:
        try:
            return super().to_internal_value(data)
        except ValidationError:
            # What came in by a file that named its unit may be sent back as it was read.
            if isinstance(data, int | float) and self.is_recorded(data):
                return NumberField.to_internal_value(self, data)
            raise

    def is_recorded(self, data: float) -> bool:
        record = standing_record(self.parent)
        known = getattr(record, self.source or "", None)
        return known is not None and float(known) == data


class NullForEmptyMixin(serializers.Field[Any, Any, Any, Any]):
    """Null where there is nothing; the record keeps the empty text for that."""

    def run_validation(self, data: Any = empty) -> Any:
        return "" if data is None else super().run_validation(data)

    def to_representation(self, value: Any) -> Any:
        return super().to_representation(value) or None


class WordField(NullForEmptyMixin, StrictChoiceField):
    """One word of a vocabulary, null where it is not known."""

    def __init__(self, choices: Any, **kwargs: Any) -> None:
        kwargs.pop("allow_blank", None)
        super().__init__(choices, **{"required": False, "allow_null": True} | kwargs)


class OptionalTextField(NullForEmptyMixin, StrictCharField):
    """A short text that names something, null where there is none."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"required": False, "allow_null": True, "allow_blank": True} | kwargs)


@extend_schema_field({"type": ["string", "null"]})
class KeyField(serializers.Field[Any, Any, Any, Any]):
    """The natural key of the record that is referred to, null where there is none; only shown."""

    def __init__(self, *, key: str, **kwargs: Any) -> None:
        self.key = key
        super().__init__(**{**kwargs, "read_only": True})

    def to_representation(self, value: Any) -> str:
        return str(getattr(value, self.key))


class NaturalKeyField(serializers.RegexField):
    default_error_messages = {"not_text": "Text is expected here."}

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("not_text")
        return super().to_internal_value(data)


class CodeField(NaturalKeyField):
    """A natural key of letters, digits, dashes and underlines."""

    default_error_messages = {"invalid": "Letters, digits, '-' and '_' are expected here."}

    def __init__(self, **kwargs: Any) -> None:
        kwargs.pop("allow_unicode", None)
        super().__init__(CODE, **kwargs)


class TagField(NaturalKeyField):
    """A natural key used in addresses: any visible characters; a slash stands between two names."""

    default_error_messages = {
        "invalid": "A key stands in addresses: no control character, a name on both sides of each slash, no address at its end.",
        "invisible": "The text holds an invisible character: type it again.",
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(KEY, **kwargs)

    def to_internal_value(self, data: Any) -> str:
        text = unicodedata.normalize("NFC", super().to_internal_value(data))
        if any(unicodedata.category(letter) in INVISIBLE for letter in text):
            self.fail("invisible")
        if foreign := foreign_letter(text):
            found = {"cell": text, "letter": foreign, "looks_like": LOOK_LIKE_LATIN[foreign]}
            raise ValidationError(detail_of(fact("code_mixes_alphabets", **found)))
        return text


class AnyCaseUnique(UniqueValidator):
    """A key that differs by case alone is the same key. Those alike are found by the index of normal forms."""

    def filter_queryset(self, value: str, queryset: Any, field_name: str) -> Any:
        alike = queryset.filter(**{f"{field_name}__normal__in": normal_forms(value)})
        rows = alike.order_by().values_list("pk", field_name)
        return queryset.filter(pk__in=[pk for pk, key in rows if key.casefold() == value.casefold()])


@extend_schema_field({"type": "string", "pattern": TIME, "examples": ["06:30"]})
class HourField(serializers.TimeField):
    """A time of the day on the clock of the place."""

    default_error_messages = {"invalid": "A time of the day is expected here, such as 06:30."}

    def to_internal_value(self, value: Any) -> time:
        if not isinstance(value, str) or not re.fullmatch(TIME, value):
            self.fail("invalid", format="hh:mm")
        return time.fromisoformat(value)

    def to_representation(self, value: Any) -> str:
        return f"{value:%H:%M:%S}" if value.second else f"{value:%H:%M}"


class ChainField(OptionalTextField):
    """The designation of a chain in any of its names, answered as the preferred one; null outside any standard."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"max_length": 40} | kwargs)

    def to_internal_value(self, data: Any) -> str:
        text = super().to_internal_value(data)
        if not text:
            return ""
        try:
            return find_chain(text).designation
        except UnknownChain as error:
            raise ValidationError(detail_of(error.fact)) from error


def spread_chain(data: Mapping[str, Any]) -> tuple[Mapping[str, Any], dict[str, Any]]:
    """A body whose `chain` is an object of own dimensions, with these as members of the body; and what is wrong."""
    own = data.get("chain")
    if not isinstance(own, Mapping):
        return data, {}
    stray = {str(name): ["There is no such member."] for name in own if name not in ENGAGEMENT_LENGTHS}
    twice = [name for name in own if name in data]
    stray |= {name: ["It is given beside the chain too: leave out one of the two."] for name in twice}
    sound = {name: value for name, value in own.items() if name not in stray}
    return {**data, "chain": None, **sound}, {"chain": stray} if stray else {}


class SizeFieldSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    target_class = "api.wire.fields.SizeField"

    def map_serializer_field(self, auto_schema: AutoSchema, direction: str) -> dict[str, Any]:
        if direction == "response":
            return {"type": "number"}
        return {"type": "number", "minimum": float(self.target.low), "maximum": float(self.target.high)}


class ChainFieldSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    target_class = "api.wire.fields.ChainField"

    def map_serializer_field(self, auto_schema: AutoSchema, direction: str) -> dict[str, Any]:
        named = {"type": "string", "maxLength": 40, "examples": ["08B", "40"]}
        if direction == "response":
            return named
        length = {"type": "number", "exclusiveMinimum": 0}
        own = {
            "type": "object",
            "properties": dict.fromkeys(ENGAGEMENT_LENGTHS, length),
            "additionalProperties": False,
        }
        return {"oneOf": [named, own]}

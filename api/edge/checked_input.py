"""Input of calculators: all errors of an object at once, and errors of a core at the field that it names."""

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from drf_spectacular.drainage import set_override
from drf_spectacular.utils import PolymorphicProxySerializer
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from api.edge.errors import field_errors
from api.edge.parsing import StrictCharField, StrictFloatField, StrictSerializer, nearest


class SpanField(StrictFloatField):
    """A number within limits; `above` and `below` are limits that it must not touch."""

    default_error_messages = {
        "above": "The number must be above {above:g}.",
        "below": "The number must be below {below:g}.",
    }

    def __init__(self, *, above: float | None = None, below: float | None = None, **kwargs: Any) -> None:
        self.above, self.below = above, below
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> float:
        value = super().to_internal_value(data)
        if self.above is not None and value <= self.above:
            self.fail("above", above=self.above)
        if self.below is not None and value >= self.below:
            self.fail("below", below=self.below)
        return value


class CurrencyField(StrictCharField):
    """ISO 4217; nothing is converted, it is given back beside the amounts."""

    default_error_messages = {"unlike": "Give the currency as three capitals, such as EUR."}

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=3, **kwargs)

    def to_internal_value(self, data: Any) -> str:
        value = super().to_internal_value(data)
        if not re.fullmatch(r"[A-Z]{3}", value):
            self.fail("unlike")
        return value


class KindField(serializers.Field[Any, Any, Any, Any]):
    """An object whose member `by` says which of the serializers reads it."""

    default_error_messages = {
        "invalid": "An object is expected here.",
        "unnamed": "Give {by}: one of {known}.",
        "unknown": '"{given}" is not one of: {known}.{near}',
    }

    def __init__(
        self, kinds: Mapping[str, type[StrictSerializer]], *, by: str, component: str, **kwargs: Any
    ) -> None:
        self.kinds, self.by = kinds, by
        super().__init__(**kwargs)
        # Each object is described, as a serializer makes its fields again for every one of its own.
        proxy = PolymorphicProxySerializer(component, dict(kinds), resource_type_field_name=by)
        set_override(self, "field", proxy)

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        if not isinstance(data, Mapping):
            self.fail("invalid")
        kind = data.get(self.by)
        if not isinstance(kind, str) or kind not in self.kinds:
            raise ValidationError({self.by: [self.refusal(kind)]})
        serializer = self.kinds[kind](data=data, context=self.context)
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)

    def refusal(self, given: Any) -> str:
        known = ", ".join(self.kinds)
        if given is None:
            return self.error_messages["unnamed"].format(by=self.by, known=known)
        near = nearest(given, self.kinds) if isinstance(given, str) else ""
        return self.error_messages["unknown"].format(given=str(given)[:80], known=known, near=near)

    def to_representation(self, value: Any) -> Any:
        return value


NAMED = re.compile(r"`(\w+)(?:\[(\d+)\])?`")


@contextmanager
def refusals_at(places: Mapping[str, str], otherwise: str = "") -> Iterator[None]:
    """Turn a core's ValueError into 400 at the pointer of the parameter that it names in backticks."""
    try:
        yield
    except (ValueError, OverflowError) as error:
        named = NAMED.search(str(error))
        at = places.get(named.group(1), otherwise) if named else otherwise
        place = f"/{named.group(2)}" if named and named.group(2) and named.group(1) in places else ""
        raise field_errors({at + place: str(error)}) from error

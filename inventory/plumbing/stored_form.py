"""Results as JSON and back: dataclasses, decimals, dates and facts come back as what they were."""

import types
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from inventory.facts import Fact, fact_from_json

JSON = Any


PLAIN = frozenset({str, int, float, bool, types.NoneType})


def to_stored(value: Any) -> JSON:
    if type(value) in PLAIN:
        return value
    if isinstance(value, Fact):
        return value.as_json()
    if is_dataclass(value) and not isinstance(value, type):
        return {name: to_stored(getattr(value, name)) for name in _names(type(value))}
    if isinstance(value, Mapping):
        return {str(name): to_stored(one) for name, one in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [to_stored(one) for one in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Decimal):
        return str(value)
    return value.isoformat() if isinstance(value, date) else value


def from_stored(form: Any, stored: JSON) -> Any:
    """The value that `to_stored` was given; `form` is its declared type."""
    return _reader(form)(stored)


@cache
def _reader(form: Any) -> Callable[[JSON], Any]:
    """How values of a form are read, worked out once for each form."""
    origin = get_origin(form)
    if origin in (Union, types.UnionType):
        (given,) = (one for one in get_args(form) if one is not types.NoneType)
        known = _reader(given)
        return lambda stored: None if stored is None else known(stored)
    if origin is tuple:
        each = _reader(get_args(form)[0])
        return tuple if each is _as_it_is else lambda stored: tuple(map(each, stored))
    if form is Fact:
        return fact_from_json
    if isinstance(form, type) and issubclass(form, tuple):
        return lambda stored: form(*stored)
    if isinstance(form, type) and is_dataclass(form):
        members = [(name, _reader(kind)) for name, kind in hints_of(form).items()]
        return lambda stored: form(**{name: read(stored[name]) for name, read in members})
    if form in (datetime, date):
        found: Callable[[JSON], Any] = form.fromisoformat
        return found
    # PostgreSQL stores 1e30 as a whole number: what was a float comes back as one.
    return form if form in (Decimal, float) or is_enum(form) else _as_it_is


def _as_it_is(stored: JSON) -> Any:
    return stored


def if_readable(form: Any, stored: JSON) -> Any:
    """The same; None for what an older version stored with other members, which has to be calculated again."""
    try:
        return from_stored(form, stored)
    except (KeyError, TypeError, ValueError):
        return None


def is_enum(form: Any) -> bool:
    return isinstance(form, type) and issubclass(form, Enum)


@cache
def _names(form: type) -> tuple[str, ...]:
    return tuple(one.name for one in fields(form) if one.init)


@cache
def hints_of(form: type) -> dict[str, Any]:
    known = get_type_hints(form)
    return {one.name: known[one.name] for one in fields(form) if one.init}

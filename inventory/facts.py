"""What the cores say: a stable code with its values. Sentences are made from it where they are shown, in `api.wording`."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

Value = str | float | int | bool | None
"""Values are plain, so that a fact can be stored and sent: units stand in the names."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that was found: `code` says what, `values` how much. A value may be a tuple of further facts.

    >>> fact("roller_too_large", roller_mm=8.51, seat_max_mm=8.27).as_json()
    {'code': 'roller_too_large', 'values': {'roller_mm': 8.51, 'seat_max_mm': 8.27}}
    """

    code: str
    items: tuple[tuple[str, Any], ...] = field(default=())

    @property
    def values(self) -> Mapping[str, Any]:
        return MappingProxyType(dict(self.items))

    def as_json(self) -> dict[str, Any]:
        return {"code": self.code, "values": {name: _plain(value) for name, value in self.items}}


def fact(code: str, /, **values: Any) -> Fact:
    """Values in the order of their names: a database may give them back in another order than they were stored in."""
    return Fact(code, tuple(sorted(values.items())))


class Refusal(ValueError):  # noqa: N818 - subclasses read as what was refused
    """A request is refused; `fact` says why, `field` what to change where it is one field."""

    def __init__(self, fact: Fact, *, field: str = "") -> None:
        super().__init__(repr(fact))
        self.fact = fact
        self.field = field


def fact_from_json(stored: Mapping[str, Any]) -> Fact:
    """The fact that `as_json` gave."""
    return fact(stored["code"], **{name: _read(value) for name, value in stored["values"].items()})


def _plain(value: Any) -> Any:
    if isinstance(value, Fact):
        return value.as_json()
    return [_plain(one) for one in value] if isinstance(value, tuple) else value


def _read(value: Any) -> Any:
    if isinstance(value, Mapping):
        return fact_from_json(value)
    return tuple(_read(one) for one in value) if isinstance(value, list) else value

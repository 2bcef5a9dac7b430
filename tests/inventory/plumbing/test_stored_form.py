import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

import pytest

from inventory.facts import Fact, fact
from inventory.plumbing.stored_form import from_stored, to_stored


class Colour(StrEnum):
    RED = "red"


@dataclass(frozen=True)
class Inner:
    price: Decimal
    on: date | None


@dataclass(frozen=True)
class Outer:
    name: str
    share: float
    at: datetime
    colour: Colour
    is_cut: bool
    inner: tuple[Inner, ...]
    reason: Fact | None
    shares: tuple[float, ...] = ()


FULL = Outer(
    "pump",
    0.1 + 0.2,
    datetime(2026, 3, 1, 6, 30, tzinfo=UTC),
    Colour.RED,
    True,
    (Inner(Decimal("38.50"), date(2026, 3, 1)), Inner(Decimal("1E+3"), None)),
    fact("outer", size_mm=8.51, because=(fact("inner", count=2),)),
    (1e-300, 5.0),
)
EMPTY = Outer("", 0.0, datetime(2026, 1, 1, tzinfo=UTC), Colour.RED, False, (), None)


@pytest.mark.parametrize("value", [FULL, EMPTY])
def test_a_result_comes_back_as_what_it_was(value: Outer) -> None:
    stored = json.loads(json.dumps(to_stored(value), allow_nan=False))
    found = from_stored(Outer, stored)
    assert found == value
    assert [type(one) for one in vars(found).values()] == [type(one) for one in vars(value).values()]


def test_a_float_that_the_database_wrote_as_a_whole_number_is_a_float_again() -> None:
    stored: dict[str, Any] = to_stored(EMPTY) | {"share": 3}
    assert isinstance(from_stored(Outer, stored).share, float)

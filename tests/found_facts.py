"""Compares what was found with what a case expects: the code, and those values that the case names."""

from collections.abc import Iterable, Iterator
from typing import Any

import pytest

from inventory.facts import Fact


def all_facts(facts: Iterable[Fact]) -> Iterator[Fact]:
    """Facts with those that stand in their values."""
    for one in facts:
        yield one
        for value in one.values.values():
            nested = value if isinstance(value, tuple) else (value,)
            yield from all_facts(inner for inner in nested if isinstance(inner, Fact))


def found(facts: Iterable[Fact], expected: Fact) -> bool:
    """Numbers agree to the last decimal that the expectation writes."""
    return any(
        one.code == expected.code
        and all(name in one.values and agrees(one.values[name], value) for name, value in expected.items)
        for one in all_facts(facts)
    )


def all_found(facts: tuple[Fact, ...], expected: Fact | tuple[Fact, ...]) -> bool:
    each = expected if isinstance(expected, tuple) else (expected,)
    return all(found(facts, one) for one in each)


def agrees(value: Any, expected: Any) -> bool:
    if not isinstance(expected, float):
        return bool(value == expected)
    decimals = len(f"{expected!r}".partition(".")[2])
    return bool(value == pytest.approx(expected, rel=0, abs=0.51 * 10**-decimals))

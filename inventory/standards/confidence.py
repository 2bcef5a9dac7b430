"""What stands behind a fact: the kind of its source, and how far it may be off where no source shows it.

A decision that is the same at both ends of the plausible error stands. One that differs turns on the fact: then it is for a
person, who sees the fact. A fact that was only remembered or taken over from a similar case refuses nothing by itself.
"""

from collections.abc import Callable, Mapping
from dataclasses import KW_ONLY, dataclass
from enum import StrEnum
from itertools import product
from typing import Any

from inventory.facts import Fact, fact


class SourceKind(StrEnum):
    """Where a fact comes from, the surest first."""

    SEEN = "seen"
    COMPUTED = "computed"
    ANALOGY = "analogy"
    MEMORY = "memory"
    JUDGEMENT = "judgement"
    DISPUTED = "disputed"


KIND_OF_WORD = {
    "confirmed": SourceKind.SEEN,
    "found": SourceKind.SEEN,
    "found on trade pages": SourceKind.SEEN,
    "derived": SourceKind.COMPUTED,
    "computed": SourceKind.COMPUTED,
    "from memory": SourceKind.MEMORY,
    "judgement on found dimensions": SourceKind.JUDGEMENT,
    "sources disagree": SourceKind.DISPUTED,
}
"""The words in the column `confidence` of the tables."""


@dataclass(frozen=True)
class Estimate:
    """A figure and the span in which it plausibly lies; `of` names the row that it belongs to."""

    name: str
    value: float
    low: float
    high: float
    kind: SourceKind
    _: KW_ONLY
    of: str | None = None

    @property
    def ends(self) -> tuple[float, ...]:
        return () if self.low == self.high else (self.low, self.high)

    @property
    def named(self) -> Fact:
        """What a finding says of it when its outcome turns on it."""
        span = {"value": self.value, "low": self.low, "high": self.high}
        return fact("rests_on_estimate", name=self.name, of=self.of, kind=self.kind.value, **span)


def turns_on(decide: Callable[..., object], *estimates: Estimate) -> tuple[Fact, ...]:
    """The estimates, named, on which a decision turns: at an end of one of them it is another. `decide` takes a figure for each."""
    corners = product(*((one.value, *one.ends) for one in estimates))
    turning = places_that_matter({corner: decide(*corner) for corner in corners})
    return tuple(estimates[place].named for place in turning)


def places_that_matter(decided: Mapping[tuple[Any, ...], object]) -> tuple[int, ...]:
    """The places of a corner that alone can change what is decided there; every combination is decided."""
    if len(set(decided.values())) == 1:
        return ()
    count = len(next(iter(decided)))
    return tuple(place for place in range(count) if _matters(decided, place))


def _matters(decided: Mapping[tuple[Any, ...], object], place: int) -> bool:
    found: dict[tuple[Any, ...], object] = {}
    return any(
        found.setdefault((*corner[:place], *corner[place + 1 :]), decision) != decision
        for corner, decision in decided.items()
    )

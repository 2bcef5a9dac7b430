"""The sizes below which a bare number in a millimetre column is likely an inch, and the question that it raises."""

from dataclasses import dataclass
from decimal import Decimal

from inventory.facts import Fact, fact

INCH = Decimal("25.4")
"""Millimetres in one inch, exact by definition."""


@dataclass(frozen=True)
class Plausible:
    """The range in which a bare number is taken as millimetres without a question."""

    what: str
    from_mm: Decimal
    to_mm: Decimal

    def question(self, number: Decimal) -> Fact | None:
        if 0 < number < self.from_mm:
            return fact(
                "length_perhaps_in_inches",
                dimension=self.what,
                number=float(number),
                inches_in_mm=float(number * INCH),
            )
        if number > self.to_mm:
            return fact("length_perhaps_in_another_unit", dimension=self.what, number=float(number))
        return None


def usual(what: str, from_mm: str, to_mm: str) -> Plausible:
    return Plausible(what, Decimal(from_mm), Decimal(to_mm))


PLAUSIBLE: dict[str, Plausible] = {}
"""By the name of the column; each record declares those of its own lengths."""

OUTSIDE_TO_PITCH_DIAMETER = Decimal("0.5")
SHORTEST_CENTRES_IN_PITCHES = Decimal(5)

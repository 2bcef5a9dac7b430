"""The sizes below which a bare number in a millimetre column is likely an inch, and the question that it raises."""

from dataclasses import dataclass
from decimal import Decimal

INCH = Decimal("25.4")
"""Millimetres in one inch, exact by definition."""


@dataclass(frozen=True)
class Plausible:
    """The range in which a bare number is taken as millimetres without a question."""

    what: str
    from_mm: Decimal
    to_mm: Decimal

    def question(self, number: Decimal) -> str:
        if number < self.from_mm and number > 0:
            return (
                f"{number.normalize():f} mm {self.what}: inches? Write '{number.normalize():f} in' "
                f"({(number * INCH).normalize():f} mm), or '{number.normalize():f} mm' if it is meant so."
            )
        if number > self.to_mm:
            return (
                f"{number.normalize():f} mm {self.what}: another unit? "
                f"Write '{number.normalize():f} mm' if it is meant so."
            )
        return ""


def usual(what: str, from_mm: str, to_mm: str) -> Plausible:
    return Plausible(what, Decimal(from_mm), Decimal(to_mm))


PLAUSIBLE: dict[str, Plausible] = {}
"""By the name of the column; each record declares those of its own lengths."""

OUTSIDE_TO_PITCH_DIAMETER = Decimal("0.5")
SHORTEST_CENTRES_IN_PITCHES = Decimal(5)

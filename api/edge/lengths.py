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


def _range(what: str, from_mm: str, to_mm: str) -> Plausible:
    return Plausible(what, Decimal(from_mm), Decimal(to_mm))


# Each lower bound lies under the smallest part in the chain, key and bush tables and above the
# usual inch figures for the same dimension. Judgement, and only ever a question: a stated unit answers it.
PLAUSIBLE = {
    "pitch_mm": _range("pitch", "4", "400"),
    "roller_diameter_mm": _range("roller diameter", "2", "150"),
    "inner_width_mm": _range("inner width", "2", "150"),
    "transverse_pitch_mm": _range("transverse pitch", "4", "300"),
    "centre_distance_mm": _range("centre distance", "40", "30000"),
    "bore_mm": _range("bore", "6", "600"),
    "max_bore_mm": _range("greatest bore", "6", "600"),
    "shaft_diameter_mm": _range("shaft diameter", "6", "600"),
    "key_width_mm": _range("key width", "2", "100"),
    "key_height_mm": _range("key height", "2", "60"),
    "key_length_mm": _range("key length", "5", "500"),
    "keyway_width_mm": _range("keyway width", "2", "100"),
    "keyway_depth_mm": _range("keyway depth", "0.8", "40"),
    "hex_across_flats_mm": _range("hexagon", "5", "200"),
    "hub_diameter_mm": _range("hub diameter", "9", "1500"),
    "hub_diameter_2_mm": _range("other hub diameter", "9", "1500"),
    "length_through_bore_mm": _range("length through bore", "2", "600"),
    "outside_diameter_mm": _range("outside diameter", "12", "3000"),
    "tooth_width_mm": _range("tooth width", "2", "150"),
    "envelope_outside_diameter_mm": _range("room for the outside diameter", "12", "3000"),
    "envelope_hub_diameter_mm": _range("room for the hub", "9", "1500"),
    "envelope_length_through_bore_mm": _range("room along the shaft", "2", "600"),
}

OUTSIDE_TO_PITCH_DIAMETER = Decimal("0.5")
SHORTEST_CENTRES_IN_PITCHES = Decimal(5)

"""What a new sprocket of a rim measures: the size aimed at, and the limits of its standard. Lengths in mm."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from inventory.identification.rim_sizes import form_of, sizes_of
from inventory.identification.rims import Rim


@dataclass(frozen=True, slots=True)
class ExpectedSize:
    """`size_mm` is what tables print; a new part lies between `least_mm` and `most_mm`."""

    size_mm: float
    least_mm: float
    most_mm: float

    def overlaps(self, other: "ExpectedSize", apart_mm: float) -> bool:
        """Whether a reading could be of either, each read wrong by half of `apart_mm`."""
        return self.least_mm - apart_mm < other.most_mm and other.least_mm - apart_mm < self.most_mm


@lru_cache(maxsize=8192)
def expected_sizes(rim: Rim, teeth: int, chord_gaps: int = 1) -> dict[str, ExpectedSize]:
    """By the name of the reading; over the bottoms as a caliper reads it, odd and even counts apart."""
    form, row = form_of(rim, teeth), sizes_of([rim], [teeth])
    one = {name: float(getattr(row, name)[0]) for name in row.__dataclass_fields__}
    caliper, doubt = form.caliper_diameter_mm, one["root_doubt_mm"]
    width_most = max(one["tooth_width_mm"], one["tooth_width_single_mm"]) + one["tooth_width_doubt_mm"]
    width_least = one["tooth_width_mm"] - one["tooth_width_tolerance_mm"] - one["tooth_width_doubt_mm"]
    over_rows = (rim.strands - 1) * one["transverse_pitch_mm"]
    chord = one["pitch_diameter_mm"] * float(np.sin(np.pi * chord_gaps / teeth))
    return {
        "outside_diameter_mm": ExpectedSize(
            one["turned_mm"], one["outside_least_mm"], one["outside_most_mm"]
        ),
        "caliper_diameter_mm": ExpectedSize(
            caliper, caliper - one["root_tolerance_mm"] - doubt, caliper + doubt
        ),
        "tooth_width_mm": ExpectedSize(one["tooth_width_mm"], width_least, width_most),
        "overall_width_mm": ExpectedSize(
            over_rows + one["tooth_width_mm"], over_rows + width_least, over_rows + width_most
        ),
        "chord_mm": ExpectedSize(chord, chord, chord),
    }

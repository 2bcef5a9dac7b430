"""Sizes of new teeth on many rims at once, one row for each rim and tooth count; lengths in mm."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from inventory.identification.rims import Rim
from inventory.standards.rim_tolerances import it11_mm, it14_mm
from inventory.standards.tooth_form import ToothForm, tooth_form
from inventory.standards.tooth_formulas import across_gaps_mm

Array = NDArray[np.float64]
Places = NDArray[np.intp]


@dataclass(frozen=True)
class RimSizes:
    """Columns over the rows of a table of rims. `root_*` are true diameters, `tooth_width_single_mm` that of a single row.

    `outside_doubt_mm` is the largest outside diameter where the tip of a rim follows no table that was seen.
    """

    teeth: Array
    strands: Array
    tooth_pitch_mm: Array
    pitch_diameter_mm: Array
    turned_mm: Array
    outside_least_mm: Array
    outside_most_mm: Array
    outside_doubt_mm: Array
    root_mm: Array
    root_tolerance_mm: Array
    root_doubt_mm: Array
    across_factor: Array
    tooth_width_mm: Array
    tooth_width_single_mm: Array
    tooth_width_tolerance_mm: Array
    tooth_width_doubt_mm: Array
    transverse_pitch_mm: Array
    most_hub_mm: Array

    def rows(self, places: Sequence[int] | Places) -> "RimSizes":
        return RimSizes(*(getattr(self, one.name)[places] for one in fields(self)))


@lru_cache(maxsize=4096)
def form_of(rim: Rim, teeth: int) -> ToothForm:
    return tooth_form(rim.chain, teeth, rim.strands, single_cut=rim.single_cut)


def sizes_of(rims: Sequence[Rim], teeth: Sequence[int]) -> RimSizes:
    """One row for each rim with its tooth count."""
    table = np.array([_row(rim, count) for rim, count in zip(rims, teeth, strict=True)], dtype=float)
    return RimSizes(*table.reshape(-1, len(fields(RimSizes))).T)


@lru_cache(maxsize=16_384)
def _row(rim: Rim, teeth: int) -> tuple[float, ...]:
    form, single = form_of(rim, teeth), tooth_form(rim.chain, teeth, single_cut=rim.single_cut)
    rollers = [chain.roller_diameter_mm for chain in rim.chains]
    tolerance = form.root_diameter_minus_tolerance_mm
    return (
        teeth,
        rim.strands,
        rim.tooth_pitch_mm,
        form.pitch_diameter_mm,
        form.outside_diameter_mm,
        form.outside_diameter_min_mm,
        max(form.outside_diameter_max_mm, form.outside_diameter_mm),
        max(
            form.outside_diameter_max_mm,
            form.outside_diameter_mm,
            form.pitch_diameter_mm + 1.25 * rim.chain.pitch_mm - max(rollers) if rim.single_cut else 0.0,
        ),
        form.root_diameter_mm,
        tolerance if tolerance is not None else it11_mm(form.root_diameter_mm),
        max(max(rollers) - min(rollers), _doubt(rim, "roller_diameter_mm")),
        across_gaps_mm(form.pitch_diameter_mm, teeth) / form.pitch_diameter_mm,
        form.tooth_width_mm,
        single.tooth_width_mm,
        it14_mm(form.tooth_width_mm),
        max(_doubt(rim, "inner_width_mm"), _doubt(rim, "tooth_width_mm")),
        rim.chain.transverse_pitch_mm or 0.0,
        form.max_hub_diameter_mm,
    )


def _doubt(rim: Rim, name: str) -> float:
    return max((one.error_mm for one in rim.chain.plausible_errors if one.field == name), default=0.0)

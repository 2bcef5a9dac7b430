"""How a reading of a rim is distributed: tolerance of the part, loss by wear, and error of the tool, as sums of uniform and normal parts.

A new part lies somewhere in the tolerance that its standard allows, and one part in two near the size that makers aim at. Wear takes off
a tip, a seat or a side; how much of the tooth pitch is anybody's guess, so slight wear is taken as likelier than deep wear. A caliper is mostly
within 0.1 mm, sometimes not, and a tape used for large wheels within 1 mm. What a person may do wrong is a further case of the same mixture: an
odd number of teeth measured from tip to tip or over flats, a bottom read as root diameter, dirt in a gap.

Sources: ISO 606 for the tip diameter range (as in GB/T 1243 worked sheets) and for h14 of the tooth width; a printed transmission catalogue
(ISO/R 606) for the root tolerance; geometry for cos(90°/z). Shares of cases, wear and tool errors are judgement: no measured sample was found.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from inventory.identification.readings import Readings
from inventory.identification.rim_sizes import Array, RimSizes

LEAST_SPAN_MM = 0.01
"""Uniform parts are never narrower, so that densities stay finite; far below what a caliper shows."""

CALIPER_ERRORS = ((0.8, 0.06), (0.2, 0.15))
LARGE_ERRORS = ((0.5, 0.08), (0.25, 0.25), (0.25, 0.55))
"""Share and standard deviation in mm: up to 0.1 mm of expanded uncertainty with a caliper, 1 mm with a tape. Judgement."""
CALIPER_REACH_MM = 150.0
CHORD_ERRORS = ((0.7, 0.12), (0.3, 0.35))
"""Centres of gaps are set by eye or with pins."""

TIP_WEAR = ((0.15, 0.004), (0.35, 0.03), (0.3, 0.06), (0.2, 0.125))
SEAT_WEAR = ((0.15, 0.004), (0.35, 0.03), (0.3, 0.06), (0.2, 0.125))
SIDE_WEAR = ((0.3, 0.004), (0.35, 0.025), (0.35, 0.06))
"""Share of worn parts, and up to which part of the tooth pitch the diameter (or width) has lost evenly. Judgement: 6 % on a radius is deep wear."""
NO_WEAR = ((1.0, 0.004),)

AIMED_AT_OUTSIDE = (-0.15, 0.02)
"""Parts of the tooth pitch about the turned diameter: 546 printed catalogue diameters lie 0 to 0.2 below it. Computed."""
ODD_TIPS = ((0.5, 0), (0.3, 1), (0.2, 2))
"""Share of readings over an odd number of tips, and how often cos(90°/z) is lost: true diameter, tip to tip, over flats. Judgement."""
BOTTOM_READ_AS_ROOT, DIRT_IN_GAPS, DIRT_MM = 0.12, 0.05, 0.6
CUT_LIKE_SINGLE = 0.3
"""Rims of several rows that have the tooth width of a single one. Judgement; both are printed."""
ROWS_ALIKE_MM = 0.15
WITHIN_HUB_LIMIT = 0.97


@dataclass(frozen=True)
class SizeCase:
    """A share of the cases in which the size lies evenly in `least` to `most`, less an even loss of up to `loss`."""

    share: float
    least: Array
    most: Array
    loss: Array


Model = Callable[[RimSizes, Readings, bool], Iterator[SizeCase]]


def outside_parts(sizes: RimSizes, readings: Readings, worn: bool) -> Iterator[SizeCase]:
    pitch, low, high = sizes.tooth_pitch_mm, *AIMED_AT_OUTSIDE
    spans = (
        (0.45, sizes.outside_least_mm, sizes.outside_most_mm),
        (0.45, sizes.turned_mm + low * pitch, sizes.turned_mm + high * pitch),
        (0.1, sizes.outside_least_mm, sizes.outside_doubt_mm),
    )
    tip_to_tip = np.where(sizes.teeth % 2 == 1, np.cos(np.pi / (2 * sizes.teeth)), 1.0)
    for share, least, most in spans:
        for read_so, power in ODD_TIPS:
            factor = tip_to_tip**power
            for wear, part in TIP_WEAR if worn else NO_WEAR:
                yield SizeCase(share * read_so * wear, least * factor, most * factor, part * pitch)


def caliper_parts(sizes: RimSizes, readings: Readings, worn: bool) -> Iterator[SizeCase]:
    across = sizes.pitch_diameter_mm * (sizes.across_factor - 1)
    as_read = ((1 - BOTTOM_READ_AS_ROOT, sizes.root_mm + across), (BOTTOM_READ_AS_ROOT, sizes.root_mm))
    wears = SEAT_WEAR if worn else NO_WEAR
    for share, size in as_read:
        for half, depth in ((0.5, 1.0), (0.5, 0.4)):
            least = size - depth * sizes.root_tolerance_mm - sizes.root_doubt_mm
            most = size + sizes.root_doubt_mm
            for wear, part in wears:
                yield SizeCase(
                    share * half * wear * (1 - DIRT_IN_GAPS), least, most, part * sizes.tooth_pitch_mm
                )
        least, most = size - sizes.root_tolerance_mm, size + DIRT_MM
        yield SizeCase(share * DIRT_IN_GAPS, least, most, 0.0 * size)


def tooth_width_parts(sizes: RimSizes, readings: Readings, worn: bool) -> Iterator[SizeCase]:
    for share, least, most in _tooth_widths(sizes):
        for wear, part in SIDE_WEAR if worn else NO_WEAR:
            yield SizeCase(share * wear, least, most, part * sizes.tooth_pitch_mm)


def _tooth_widths(sizes: RimSizes) -> Iterator[tuple[float, Array, Array]]:
    for share, nominal in (
        (1 - CUT_LIKE_SINGLE, sizes.tooth_width_mm),
        (CUT_LIKE_SINGLE, sizes.tooth_width_single_mm),
    ):
        for half, depth in ((0.5, 1.0), (0.5, 0.3)):
            doubt = sizes.tooth_width_doubt_mm
            yield (
                share * half,
                nominal - depth * sizes.tooth_width_tolerance_mm - doubt,
                nominal + doubt,
            )


def overall_width_parts(sizes: RimSizes, readings: Readings, worn: bool) -> Iterator[SizeCase]:
    """Given the width of one row, the rest is whole transverse pitches, which hardly wear."""
    over_rows = (sizes.strands - 1) * sizes.transverse_pitch_mm
    if readings.tooth_width_mm is None:
        for part in tooth_width_parts(sizes, readings, worn):
            yield SizeCase(part.share, part.least + over_rows, part.most + over_rows, part.loss)
        return
    middle = over_rows + readings.tooth_width_mm
    yield SizeCase(0.8, middle - ROWS_ALIKE_MM, middle + ROWS_ALIKE_MM, 0.0 * middle)
    yield SizeCase(0.2, middle - 3 * ROWS_ALIKE_MM, middle + 3 * ROWS_ALIKE_MM, 0.0 * middle)


def chord_parts(sizes: RimSizes, readings: Readings, worn: bool) -> Iterator[SizeCase]:
    """Wear moves every gap the same way, so that the chord over several stays what it was."""
    chord = sizes.pitch_diameter_mm * np.sin(np.pi * readings.gaps_over_chord / sizes.teeth)
    yield SizeCase(1.0, chord - LEAST_SPAN_MM, chord + LEAST_SPAN_MM, 0.0 * chord)


def hub_parts(sizes: RimSizes, readings: Readings, worn: bool) -> Iterator[SizeCase]:
    """Any size up to the largest that clears the chain, rarely above it. Sizes below a twentieth of it are not met."""
    most = np.maximum(sizes.most_hub_mm, sizes.tooth_pitch_mm)
    yield SizeCase(WITHIN_HUB_LIMIT, 0.05 * most, most, 0.0 * most)
    yield SizeCase(1 - WITHIN_HUB_LIMIT, most, most + 2 * sizes.tooth_pitch_mm, 0.0 * most)


MODELS: dict[str, Model] = {
    "outside_diameter_mm": outside_parts,
    "caliper_diameter_mm": caliper_parts,
    "tooth_width_mm": tooth_width_parts,
    "overall_width_mm": overall_width_parts,
    "chord_mm": chord_parts,
    "hub_diameter_mm": hub_parts,
}


def errors_of(measurement: str, size_mm: float) -> tuple[tuple[float, float], ...]:
    """The errors of the tool that this size is measured with: shares and standard deviations in mm."""
    if measurement == "chord_mm":
        return CHORD_ERRORS
    return CALIPER_ERRORS if size_mm <= CALIPER_REACH_MM else LARGE_ERRORS


def density(
    measurement: str, reading_mm: Array | float, sizes: RimSizes, readings: Readings, *, worn: bool
) -> Array:
    """Probability per mm of a reading on each rim: of one reading, or with a row of readings for each rim."""
    at = np.asarray(reading_mm, dtype=float)
    largest = float(at.max())
    parts = list(MODELS[measurement](sizes, readings, worn))
    shape = (len(parts), 1, len(sizes.teeth), *(1,) * (at.ndim - 1))
    least, most, loss = (
        np.array([np.broadcast_to(getattr(part, name), sizes.teeth.shape) for part in parts]).reshape(shape)
        for name in ("least", "most", "loss")
    )
    errors = errors_of(measurement, largest)
    deviation = np.array([one for _, one in errors]).reshape(1, -1, *(1,) * (len(shape) - 2))
    found = _blurred(at, least, most, loss, deviation)
    shares = np.outer([part.share for part in parts], [share for share, _ in errors])
    return np.maximum(np.tensordot(shares, found, axes=2), 0.0)


def _blurred(at: Array, least: Array, most: Array, loss: Array, deviation: Array) -> Array:
    """Density of a size even in `least` to `most`, less one even in 0 to `loss`, with a normal error: all in closed form."""
    span, loss = np.maximum(most - least, LEAST_SPAN_MM), np.maximum(loss, LEAST_SPAN_MM)
    from_least, from_most = (at - least) / deviation, (at - least - span) / deviation
    step = loss / deviation
    risen = _ramp(from_least + step) - _ramp(from_least) - _ramp(from_most + step) + _ramp(from_most)
    return np.asarray(risen * deviation / (span * loss))


def _ramp(z: Array) -> Array:
    """The integral of the normal distribution function up to z."""
    return np.asarray(z * ndtr(z) + np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi))

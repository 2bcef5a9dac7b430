"""One sprocket's teeth from its chain and tooth count: every published dimension in one value."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, pi

from inventory.facts import Fact, fact
from inventory.standards import tooth_formulas as formulas
from inventory.standards.chains import Chain
from inventory.standards.tooth_counts import counted_teeth, strand_count

FORM_VALID_FROM, FORM_VALID_TO = 9, 150
"""Teeth for which ISO/R 606 states its tooth form, as quoted in a printed transmission catalogue."""

HUB_RULE_ISO = "ISO 606: p cot(180/z) - 1.04 h2 - 0.76 mm"
HUB_RULE_ASME = "ASME B29.1: p (cot(180/z) - 1) - 0.030 in"


@dataclass(frozen=True, slots=True)
class ToothForm:
    """Teeth of one sprocket; lengths in mm. `teeth` are counted, `effective_teeth` are chain pitches.

    The measuring pin is as thick as the roller, +0.01/0 mm. `root_diameter_minus_tolerance_mm` is None where the limit
    is h11, `width_over_strands_mm` where the transverse pitch is not known, and `flange_thickness_asme_mm` without an
    inch inner width and for four strands and more.
    """

    chain: str
    teeth: int
    effective_teeth: float
    strands: int
    pitch_diameter_mm: float
    outside_diameter_mm: float
    outside_diameter_min_mm: float
    outside_diameter_max_mm: float
    root_diameter_mm: float
    root_diameter_minus_tolerance_mm: float | None
    caliper_diameter_mm: float
    tooth_width_mm: float
    flange_thickness_asme_mm: float | None
    width_over_strands_mm: float | None
    max_hub_diameter_mm: float
    max_hub_diameter_rule: str
    measuring_pin_diameter_mm: float
    over_pins_mm: float
    seat_diameter_min_mm: float
    seat_diameter_max_mm: float
    seating_angle_min_deg: float
    seating_angle_max_deg: float
    flank_radius_min_mm: float
    flank_radius_max_mm: float
    notes: tuple[Fact, ...]


def effective_teeth(chain: Chain, teeth: int, *, single_cut: bool = True) -> float:
    """Chain pitches around a sprocket: its teeth, or half of them where the chain uses every second gap.

    Source: The Complete Guide to Chain, 1997, section 2.1.2.
    """
    count = counted_teeth("teeth", teeth)
    if single_cut:
        return float(count)
    if not _has_split_pitch(chain):
        raise ValueError(
            f"`single_cut` must be true for chain {chain.designation}: only a standard-roller double-pitch "
            "chain runs on a double-cut sprocket"
        )
    return count / 2.0


def tooth_form(chain: Chain, teeth: int, strands: int = 1, *, single_cut: bool = True) -> ToothForm:
    """Dimensions of the teeth of a sprocket.

    `single_cut` matters for double-pitch chain with standard rollers only: false means a gap at every half pitch, of
    which the chain takes every second one. Large rollers use every counted tooth.
    """
    strand_count("strands", strands)
    effective = effective_teeth(chain, teeth, single_cut=single_cut)
    roller, diameter = chain.roller_diameter_mm, formulas.pitch_diameter_mm(chain.pitch_mm, effective)
    across = formulas.across_gaps_mm(diameter, teeth)
    turned, smallest, largest = _outside_diameters_mm(chain, effective)
    width = formulas.tooth_width_mm(
        _base_pitch_mm(chain), inner_width_mm=chain.inner_width_mm, strands=strands
    )
    hub, hub_rule = _max_hub(chain, effective)
    return ToothForm(
        chain=chain.designation,
        teeth=teeth,
        effective_teeth=effective,
        strands=strands,
        pitch_diameter_mm=diameter,
        outside_diameter_mm=turned,
        outside_diameter_min_mm=smallest,
        outside_diameter_max_mm=largest,
        root_diameter_mm=diameter - roller,
        root_diameter_minus_tolerance_mm=formulas.root_diameter_minus_tolerance_mm(diameter - roller),
        caliper_diameter_mm=across - roller,
        tooth_width_mm=width,
        flange_thickness_asme_mm=_flange_thickness_asme_mm(chain, strands),
        width_over_strands_mm=_width_over_strands_mm(chain, width, strands),
        max_hub_diameter_mm=hub,
        max_hub_diameter_rule=hub_rule,
        measuring_pin_diameter_mm=roller,
        over_pins_mm=across + roller,
        seat_diameter_min_mm=2.0 * formulas.seating_radius_min_mm(roller),
        seat_diameter_max_mm=2.0 * formulas.seating_radius_max_mm(roller),
        seating_angle_min_deg=formulas.seating_angle_min_deg(effective),
        seating_angle_max_deg=formulas.seating_angle_max_deg(effective),
        flank_radius_min_mm=formulas.flank_radius_min_mm(roller, effective),
        flank_radius_max_mm=formulas.flank_radius_max_mm(roller, effective),
        notes=tuple(_notes(chain, effective, strands)),
    )


def _has_split_pitch(chain: Chain) -> bool:
    """Whether the rollers are those of a base chain of half the pitch."""
    return chain.is_double_pitch and not chain.has_large_rollers


def _base_pitch_mm(chain: Chain) -> float:
    return chain.pitch_mm / 2.0 if chain.is_double_pitch else chain.pitch_mm


def _outside_diameters_mm(chain: Chain, effective: float) -> tuple[float, float, float]:
    """Turned, smallest and largest outside diameter.

    With standard rollers at double pitch the tooth is as high as that of the base chain: each formula
    takes the base pitch and twice the teeth for the height, around the same pitch circle.
    """
    pitch, roller = chain.pitch_mm, chain.roller_diameter_mm
    if not _has_split_pitch(chain):
        return (
            formulas.outside_diameter_mm(pitch, effective),
            formulas.tip_diameter_min_mm(pitch, teeth=effective, roller_diameter_mm=roller),
            formulas.tip_diameter_max_mm(pitch, teeth=effective, roller_diameter_mm=roller),
        )
    base, diameter = pitch / 2.0, formulas.pitch_diameter_mm(pitch, effective)
    root = diameter - roller
    turned = diameter * cos(pi / (2 * effective)) + 0.6 * base
    return turned, root + base * (1.0 - 1.6 / (2.0 * effective)), root + 1.25 * base


def _flange_thickness_asme_mm(chain: Chain, strands: int) -> float | None:
    nominal = chain.inner_width_nominal_in
    return None if nominal is None else formulas.flange_thickness_asme_mm(nominal, strands)


def _width_over_strands_mm(chain: Chain, tooth_width: float, strands: int) -> float | None:
    if strands == 1:
        return tooth_width
    if chain.transverse_pitch_mm is None:
        return None
    return formulas.width_over_strands_mm(
        tooth_width, transverse_pitch_mm=chain.transverse_pitch_mm, strands=strands
    )


def _max_hub(chain: Chain, effective: float) -> tuple[float, str]:
    height = chain.plate_height_mm
    if height is None:
        return formulas.max_hub_diameter_asme_mm(chain.pitch_mm, effective), HUB_RULE_ASME
    diameter = formulas.max_hub_diameter_iso_mm(chain.pitch_mm, teeth=effective, plate_height_mm=height)
    return diameter, HUB_RULE_ISO


def _notes(chain: Chain, effective: float, strands: int) -> Iterator[Fact]:
    if not FORM_VALID_FROM <= effective <= FORM_VALID_TO:
        yield fact(
            "teeth_outside_standard", teeth=effective, least_teeth=FORM_VALID_FROM, most_teeth=FORM_VALID_TO
        )
    if not chain.is_confirmed:
        yield fact("rim_of_chain_not_in_print", chain=chain.designation)
    yield from (
        fact("rim_width_unsettled", chain=chain.designation, error_mm=doubt.error_mm)
        for doubt in chain.plausible_errors
        if doubt.field == "tooth_width_mm"
    )
    if "plate_height_mm" in chain.from_memory_fields:
        yield fact("plate_height_not_in_print")
    if _has_split_pitch(chain):
        yield fact("tip_diameter_from_base_pitch")
    if strands > 1:
        yield from _strand_notes(chain)


def _strand_notes(chain: Chain) -> Iterator[Fact]:
    if chain.is_simplex_only:
        yield fact("chain_has_one_strand", chain=chain.designation)
    if chain.transverse_pitch_mm is None:
        yield fact("transverse_pitch_not_known")
    elif "transverse_pitch_mm" in chain.from_memory_fields:
        yield fact("transverse_pitch_not_in_print")

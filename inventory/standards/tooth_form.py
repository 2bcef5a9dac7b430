"""One sprocket's teeth from its chain and tooth count: every published dimension in one value."""

from dataclasses import dataclass
from math import cos

from inventory.standards.chains import Chain
from inventory.standards.pitch_circle import (
    across_gaps_mm,
    caliper_diameter_mm,
    caliper_minus_tolerance_commercial_mm,
    caliper_minus_tolerance_precision_mm,
    chord_over_two_teeth_mm,
    double_pitch_chord_error,
    half_angle,
    measuring_pin_diameter_mm,
    over_pins_mm,
    pitch_diameter_mm,
    root_diameter_minus_tolerance_mm,
    root_diameter_mm,
)
from inventory.standards.rim import (
    flange_thickness_asme_mm,
    max_hub_diameter_asme_mm,
    max_hub_diameter_iso_mm,
    tooth_width_mm,
    width_over_strands_mm,
)
from inventory.standards.tooth_counts import counted_teeth, strand_count
from inventory.standards.tooth_gap import (
    flank_radius_max_mm,
    flank_radius_min_mm,
    seating_angle_for_max_form_deg,
    seating_angle_for_min_form_deg,
    seating_diameter_asme_mm,
    seating_radius_max_mm,
    seating_radius_min_mm,
)
from inventory.standards.tooth_tip import (
    outside_diameter_mm,
    three_arc_tip_diameter_mm,
    tip_diameter_max_mm,
    tip_diameter_min_mm,
    tooth_height_max_mm,
    tooth_height_min_mm,
)

__all__ = [
    "HUB_RULE_ASME",
    "HUB_RULE_ISO",
    "ToothForm",
    "caliper_diameter_mm",
    "caliper_minus_tolerance_commercial_mm",
    "caliper_minus_tolerance_precision_mm",
    "chord_over_two_teeth_mm",
    "double_pitch_chord_error",
    "effective_teeth",
    "flange_thickness_asme_mm",
    "flank_radius_max_mm",
    "flank_radius_min_mm",
    "max_hub_diameter_asme_mm",
    "max_hub_diameter_iso_mm",
    "measuring_pin_diameter_mm",
    "outside_diameter_mm",
    "over_pins_mm",
    "pitch_diameter_mm",
    "root_diameter_minus_tolerance_mm",
    "root_diameter_mm",
    "seating_angle_for_max_form_deg",
    "seating_angle_for_min_form_deg",
    "seating_diameter_asme_mm",
    "seating_radius_max_mm",
    "seating_radius_min_mm",
    "three_arc_tip_diameter_mm",
    "tip_diameter_max_mm",
    "tip_diameter_min_mm",
    "tooth_form",
    "tooth_height_max_mm",
    "tooth_height_min_mm",
    "tooth_width_mm",
    "width_over_strands_mm",
]


VALID_TEETH = (9, 150)
"""Range of teeth for which ISO/R 606 states its tooth form, as quoted in a printed transmission catalogue."""

HUB_RULE_ISO = "ISO 606: p cot(180/z) - 1.04 h2 - 0.76 mm"
HUB_RULE_ASME = "ASME B29.1: p (cot(180/z) - 1) - 0.030 in"


@dataclass(frozen=True, slots=True)
class ToothForm:
    """Teeth of one sprocket; lengths in mm. `teeth` are counted, `effective_teeth` are chain pitches."""

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
    notes: tuple[str, ...]


def effective_teeth(chain: Chain, teeth: int, *, single_cut: bool = True) -> float:
    """Chain pitches that go around a sprocket.

    Parameters
    ----------
    chain : Chain
        Chain that runs on it.
    teeth : int
        Teeth as counted on the part, 6 to 400.
    single_cut : bool
        False for a double-cut sprocket, on which a standard-roller double-pitch chain takes every second gap.

    Returns
    -------
    float
        `teeth`, or half of it for a double-cut sprocket; an odd count gives half an integer.

    Raises
    ------
    ValueError
        If `teeth` is outside its range, or a double cut is asked for a chain that has none.

    Source
    ------
    Geometry; The Complete Guide to Chain, 1997, section 2.1.2.

    Examples
    --------
    >>> from inventory.standards.chains import find_chain
    >>> effective_teeth(find_chain("2040"), 19, single_cut=False)
    9.5
    """
    count = counted_teeth("teeth", teeth)
    if single_cut:
        return float(count)
    if not chain.is_double_pitch or chain.has_large_rollers:
        raise ValueError(
            f"`single_cut` must be true for chain {chain.designation}: only a standard-roller double-pitch "
            "chain runs on a double-cut sprocket"
        )
    return count / 2.0


def _is_split_pitch(chain: Chain) -> bool:
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
    if not _is_split_pitch(chain):
        return (
            outside_diameter_mm(pitch, effective),
            tip_diameter_min_mm(pitch, teeth=effective, roller_diameter_mm=roller),
            tip_diameter_max_mm(pitch, teeth=effective, roller_diameter_mm=roller),
        )
    base, root = pitch / 2.0, root_diameter_mm(pitch, teeth=effective, roller_diameter_mm=roller)
    turned = pitch_diameter_mm(pitch, effective) * cos(half_angle(effective) / 2.0) + 0.6 * base
    return turned, root + base * (1.0 - 1.6 / (2.0 * effective)), root + 1.25 * base


def _width_over_strands_mm(chain: Chain, tooth_width: float, strands: int) -> float | None:
    if strands == 1:
        return tooth_width
    if chain.transverse_pitch_mm is None:
        return None
    return width_over_strands_mm(tooth_width, transverse_pitch_mm=chain.transverse_pitch_mm, strands=strands)


def _max_hub(chain: Chain, effective: float) -> tuple[float, str]:
    if chain.plate_height_mm is None:
        return max_hub_diameter_asme_mm(chain.pitch_mm, effective), HUB_RULE_ASME
    height = chain.plate_height_mm
    return max_hub_diameter_iso_mm(chain.pitch_mm, teeth=effective, plate_height_mm=height), HUB_RULE_ISO


def _strand_notes(chain: Chain, strands: int) -> list[str]:
    if strands == 1:
        return []
    notes = []
    if chain.is_simplex_only:
        notes.append(f"chain {chain.designation} is made in one strand only")
    if chain.transverse_pitch_mm is None:
        notes.append("transverse pitch not known: width over the strands not worked out")
    elif "transverse_pitch_mm" in chain.from_memory_fields:
        notes.append("transverse pitch not seen in print: measure the width over the strands")
    return notes


def _notes(chain: Chain, effective: float, strands: int) -> tuple[str, ...]:
    notes = []
    least, most = VALID_TEETH
    if not least <= effective <= most:
        notes.append(
            f"{effective:g} teeth lie outside {least} to {most}, for which ISO/R 606 states the form"
        )
    if not chain.is_confirmed:
        notes.append(f"roller or inner width of chain {chain.designation} not seen in print")
    if "plate_height_mm" in chain.from_memory_fields:
        notes.append("plate height not seen in print: check the hub against the chain")
    if _is_split_pitch(chain):
        notes.append("tip diameters take the base pitch for the tooth height: derived, no table seen")
    return (*notes, *_strand_notes(chain, strands))


def tooth_form(chain: Chain, teeth: int, strands: int = 1, *, single_cut: bool = True) -> ToothForm:
    """Dimensions of the teeth of a sprocket.

    Parameters
    ----------
    chain : Chain
        Chain that the sprocket is cut for.
    teeth : int
        Teeth as counted on the part, 6 to 400.
    strands : int
        Rows of teeth, 1 to 10.
    single_cut : bool
        Matters for double-pitch chain with standard rollers only. True: one gap per chain pitch. False: a
        gap at every half pitch, of which the chain takes every second one, so that the pitch diameter
        follows from half the counted teeth. Large rollers use every counted tooth.

    Returns
    -------
    ToothForm
        Frozen value. `width_over_strands_mm` is None where the transverse pitch is not known;
        `flange_thickness_asme_mm` is None without an inch inner width and for four strands and more.

    Raises
    ------
    ValueError
        If `teeth` or `strands` is outside its range, or `single_cut` is false for a chain without a double cut.

    Source
    ------
    ISO 606 and ASME B29.1 formulas, each named at its own function.

    Examples
    --------
    >>> from inventory.standards.chains import find_chain
    >>> round(tooth_form(find_chain("08A"), 14).root_diameter_mm, 2)
    49.15
    """
    strand_count("strands", strands)
    effective = effective_teeth(chain, teeth, single_cut=single_cut)
    roller, diameter = chain.roller_diameter_mm, pitch_diameter_mm(chain.pitch_mm, effective)
    turned, smallest, largest = _outside_diameters_mm(chain, effective)
    width = tooth_width_mm(_base_pitch_mm(chain), inner_width_mm=chain.inner_width_mm, strands=strands)
    nominal = chain.inner_width_nominal_in
    hub, hub_rule = _max_hub(chain, effective)
    pin = measuring_pin_diameter_mm(roller)
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
        root_diameter_minus_tolerance_mm=root_diameter_minus_tolerance_mm(diameter - roller),
        caliper_diameter_mm=across_gaps_mm(diameter, teeth) - roller,
        tooth_width_mm=width,
        flange_thickness_asme_mm=None if nominal is None else flange_thickness_asme_mm(nominal, strands),
        width_over_strands_mm=_width_over_strands_mm(chain, width, strands),
        max_hub_diameter_mm=hub,
        max_hub_diameter_rule=hub_rule,
        measuring_pin_diameter_mm=pin,
        over_pins_mm=across_gaps_mm(diameter, teeth) + pin,
        seat_diameter_min_mm=2.0 * seating_radius_min_mm(roller),
        seat_diameter_max_mm=2.0 * seating_radius_max_mm(roller),
        notes=_notes(chain, effective, strands),
    )

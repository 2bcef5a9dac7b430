"""What a sprocket weighs, worked out from its dimensions where nobody recorded it. Lengths in mm."""

from math import pi

from inventory.interchange.requirement import Sprocket
from inventory.interchange.vocabulary import Material
from inventory.standards.tooth_formulas import pitch_diameter_mm, width_over_strands_mm

KG_PER_MM3 = {
    Material.CARBON_STEEL: 7.85e-6,
    Material.ALLOY_STEEL: 7.85e-6,
    Material.STAINLESS_STEEL: 7.9e-6,
    Material.CAST_IRON: 7.2e-6,
    Material.SINTERED_STEEL: 6.8e-6,
    Material.PLASTIC: 1.4e-6,
}
"""Usual densities, from memory; steel where the material is not recorded."""


def estimated_mass_kg(offered: Sprocket) -> float | None:
    """As a solid disc up to the pitch circle, with its hub and less its bore; None where no wheel can be drawn.

    Wheels with arms or holes weigh less, so the estimate errs to the heavy side.
    """
    wheel_mm, rim_mm = _wheel_mm(offered), _width_over_rows_mm(offered)
    if wheel_mm is None or rim_mm is None:
        return None
    hub_mm, bore_mm = offered.widest_hub_mm or 0.0, offered.bore_mm or 0.0
    length_mm = max(offered.length_through_bore_mm or rim_mm, rim_mm)
    metal_mm2_mm = wheel_mm**2 * rim_mm + hub_mm**2 * (length_mm - rim_mm) - bore_mm**2 * length_mm
    density = KG_PER_MM3[offered.material or Material.CARBON_STEEL]
    return max(round(pi / 4 * metal_mm2_mm * density, 2), 0.0)


def _wheel_mm(offered: Sprocket) -> float | None:
    chain, teeth = offered.chain, offered.effective_teeth_under(offered.chain)
    if chain is None or teeth is None:
        return offered.outside_diameter_mm
    return pitch_diameter_mm(chain.pitch_mm, teeth)


def _width_over_rows_mm(offered: Sprocket) -> float | None:
    rows, chain = offered.strands or 1, offered.chain
    tooth_mm = offered.tooth_width_mm
    if tooth_mm is None and chain is not None:
        tooth_mm = chain.standard_tooth_width_mm(rows)
    if tooth_mm is None:
        return offered.length_through_bore_mm
    spacing_mm = chain.transverse_pitch_mm if chain is not None else None
    return width_over_strands_mm(tooth_mm, transverse_pitch_mm=spacing_mm or tooth_mm, strands=rows)

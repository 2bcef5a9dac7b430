"""The root diameter of the rim that a line names: no bore and no shaft reaches it."""

from inventory.descriptions.typed_line import TypedLine
from inventory.standards.chains import find_chain
from inventory.standards.tooth_formulas import pitch_diameter_mm


def root_diameter_of(line: TypedLine) -> float | None:
    """In mm; of a pitch without a chain the pitch diameter, which is larger. None where teeth or chain are not read."""
    chain, teeth, pitch = line.value_of("chain"), line.value_of("teeth"), line.value_of("pitch_mm")
    if not isinstance(teeth, int):
        return None
    if isinstance(chain, str):
        found = find_chain(chain)
        return pitch_diameter_mm(found.pitch_mm, teeth) - found.roller_diameter_mm
    return pitch_diameter_mm(pitch, teeth) if isinstance(pitch, float) else None

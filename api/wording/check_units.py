"""The units of the figures of a finding: required, offered, limit and margin.

By what is checked, and by the reason where a check compares something else. A word (a chain, a bush) has no unit. Every aspect
stands here: a unit is never taken for granted.
"""

from inventory.interchange.findings import Finding
from inventory.interchange.vocabulary import Aspect

FIGURES = ("required", "offered", "limit", "margin")
Units = tuple[str, str, str, str]
LENGTHS: Units = ("mm", "mm", "mm", "mm")
TEETH: Units = ("teeth", "teeth", "teeth", "teeth")
RATIO: Units = ("teeth", "teeth", "%", "%")
TORQUE: Units = ("Nm", "Nm", "Nm", "Nm")
WORDS: Units = ("", "", "", "")
OF_ASPECT: dict[Aspect, Units] = {
    **dict.fromkeys((Aspect.CHAIN, Aspect.MOUNTING, Aspect.KEY, Aspect.HUB, Aspect.ENVELOPE), LENGTHS),
    **dict.fromkeys((Aspect.MATERIAL, Aspect.DUTY, Aspect.RULE), WORDS),
    Aspect.STRANDS: ("strands", "rows", "strands", "rows"),
    Aspect.TEETH: TEETH,
    Aspect.TOOTH_HARDNESS: ("", "", "rev/min", "rev/min"),
    Aspect.RATING: ("kW", "kW", "share", "share"),
    Aspect.CHAIN_WEAR: ("%", "%", "%", "%"),
}
OF_REASON: dict[str, Units] = {
    "every_second_gap": TEETH,
    "every_second_gap_too_few_teeth": TEETH,
    "tooth_too_narrow": ("mm", "mm", "mm", "share"),
    "rows_do_not_line_up": LENGTHS,
    "rows_too_wide": ("strands", "rows", "mm", "mm"),
    "bush_carries_torque": TORQUE,
    "bush_slips": TORQUE,
    "length_of_key_contact_not_recorded": TORQUE,
    "key_pressure_high": ("Nm", "MPa", "MPa", "MPa"),
    "ratio_tolerance_not_recorded": RATIO,
    "ratio_beyond_tolerance": RATIO,
    "take_up_not_recorded": RATIO,
    "ratio_change_not_taken_up": RATIO,
    "ratio_within_tolerance": RATIO,
}
"""Of reasons whose figures are not those of their check."""


def unit_of(finding: Finding, name: str) -> str:
    units = OF_REASON.get(finding.code) or OF_ASPECT[finding.aspect]
    return units[FIGURES.index(name)]

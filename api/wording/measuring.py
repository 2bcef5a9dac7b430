"""What to measure next at a shelf, and why a measurement is refused."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext_lazy as _

AT_THE_SHELF = {
    "chain": _(
        "Lay a piece of chain on the teeth, or identify the wheel from its sizes: which chain runs on it?"
    ),
    "strands": _("Count the rows of teeth."),
    "teeth": _("Mark one tooth and count the teeth around."),
    "bore_type": _(
        "Look into the bore: pilot bore, finished with keyway, taper for a bush, hexagon or bearing?"
    ),
    "bore_mm": _("Put the inner jaws of the calliper into the bore, twice at right angles: bore in mm."),
    "hex_across_flats_mm": _("Put the inner jaws of the calliper across two flats of the hexagon: in mm."),
    "bush_size": _("Read the size on the face of the bush, or on the hub: such as 1610 or SDS."),
    "keyway_width_mm": _("Put the inner jaws of the calliper across the keyway in the bore: width in mm."),
    "keyway_depth_mm": _(
        "Measure from the bottom of the keyway to the opposite wall of the bore, less the bore: depth in mm."
    ),
    "set_screws": _("Count the set screws in the hub."),
    "max_bore_mm": _("Read the greatest bore in the maker's list."),
    "hub_style": _(
        "Look at the sides: a plate (A), a hub on one side (B), on both sides (C), or a hub to bolt on?"
    ),
    "hub_diameter_mm": _("Put the outer jaws of the calliper across the hub: diameter in mm."),
    "length_through_bore_mm": _(
        "Put the outer jaws of the calliper across both ends of the hub, along the bore: length in mm."
    ),
    "tooth_width_mm": _(
        "Put the outer jaws of the calliper across one row of teeth, below the chamfer: width in mm."
    ),
    "outside_diameter_mm": _("Put the outer jaws of the calliper across the tips of opposite teeth: in mm."),
    "single_cut": _(
        "Lay a double-pitch chain on: does a roller lie in every gap (single cut), or in every second one?"
    ),
    "material": _("Hold a magnet to it and look at the break or the casting skin: which material is it?"),
    "material_grade": _(
        "Read the grade that is stamped on it or printed on its certificate: such as C45, 304 or 316."
    ),
    "hardened_teeth": _("Draw a file over the tip of a tooth: where it slides off, the teeth are hardened."),
}
"""Common practice, no source."""


def measure_at_the_shelf(values: Mapping[str, Any]) -> str:
    known = AT_THE_SHELF.get(str(values["attribute"]))
    return str(known or _("Measure the {attribute:words}.")).format_map(values)


SENTENCES = {
    "measure_at_the_shelf": measure_at_the_shelf,
    "how_verdicts_are_blocked": _(
        "A verdict is blocked by an attribute where the item is for review at a position in use because the attribute "
        "is not recorded, and would serve there with a fitting value; the money is the value of the available pieces "
        "where the item serves no position, and the stop of the dearest drive that nothing on any shelf serves, "
        "while an emergency order takes. A wheel with neither chain nor teeth on record is not counted: identify it first."
    ),
    "attribute_is_recorded": _(
        "The {attribute:words} is recorded already ({recorded}): leave it out, or correct the specification."
    ),
    "nothing_to_measure": _(
        "The item has no specification of a sprocket to write into: record one first, then measure."
    ),
    "measured_contradicts_chain": _(
        "No wheel for {chain} with {teeth} teeth has such sizes: measure again, or correct the specification."
    ),
    "measurement_is_no_number": _("Give a number in millimetres, such as 25 or 25.4."),
}

"""The dimensions of a part: as recorded, and as its teeth should measure by the standard."""

from collections.abc import Iterable

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from inventory.interchange.requirement import Sprocket
from inventory.models import Specification
from inventory.standards.tooth_form import ToothForm, tooth_form

Dimension = tuple[Promise, float]
LENGTHS = (
    (_("Bore"), "bore_mm"),
    (_("Largest bore with keyway"), "max_bore_mm"),
    (_("Keyway width"), "keyway_width_mm"),
    (_("Keyway depth in the hub"), "keyway_depth_mm"),
    (_("Key height"), "key_height_mm"),
    (_("Key length"), "key_length_mm"),
    (_("Hex across flats"), "hex_across_flats_mm"),
    (_("Hub diameter"), "hub_diameter_mm"),
    (_("Second hub diameter"), "hub_diameter_2_mm"),
    (_("Length through bore"), "length_through_bore_mm"),
    (_("Outside diameter"), "outside_diameter_mm"),
    (_("Tooth width"), "tooth_width_mm"),
    (_("Chain pitch"), "pitch_mm"),
    (_("Roller diameter"), "roller_diameter_mm"),
    (_("Chain inner width"), "inner_width_mm"),
    (_("Transverse pitch"), "transverse_pitch_mm"),
)
MEASURES = (
    (_("Caliper diameter over the tooth gaps"), "caliper_diameter_mm"),
    (_("Outside diameter, usual"), "outside_diameter_mm"),
    (_("Outside diameter, smallest"), "outside_diameter_min_mm"),
    (_("Outside diameter, largest"), "outside_diameter_max_mm"),
    (_("Tooth width of one strand"), "tooth_width_mm"),
    (_("Width over all strands"), "width_over_strands_mm"),
    (_("Pitch diameter"), "pitch_diameter_mm"),
    (_("Root diameter"), "root_diameter_mm"),
    (_("Measuring pin diameter"), "measuring_pin_diameter_mm"),
    (_("Over the pins"), "over_pins_mm"),
    (_("Largest hub that clears the chain"), "max_hub_diameter_mm"),
)


def lengths_of(record: Specification | None) -> list[Dimension]:
    """Those recorded, in the order in which a part is measured."""
    if record is None:
        return []
    return [(label, float(value)) for label, name in LENGTHS if (value := getattr(record, name)) is not None]


def form_of(record: Specification | None, attributes: Sprocket | None) -> ToothForm | None:
    """By the standard of its chain; None outside any standard, or where the teeth are not recorded."""
    chain = record.standard_chain() if record is not None and attributes is not None else None
    if chain is None or record is None or record.teeth is None:
        return None
    can_be_double_cut = chain.is_double_pitch and not chain.has_large_rollers
    single_cut = not (can_be_double_cut and record.single_cut is False)
    return tooth_form(chain, record.teeth, record.strands or 1, single_cut=single_cut)


def measures_of(form: ToothForm | None) -> Iterable[Dimension]:
    if form is None:
        return []
    return [(label, value) for label, name in MEASURES if (value := getattr(form, name)) is not None]

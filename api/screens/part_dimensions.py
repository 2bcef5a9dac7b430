"""A part in numbers: what is recorded of it, and what a calliper should read on its teeth."""

from collections.abc import Iterable

from inventory.interchange.requirement import Sprocket
from inventory.models import Specification
from inventory.standards.tooth_form import ToothForm, tooth_form

Row = tuple[str, float, int]
LENGTHS = (
    ("Bore", "bore_mm"),
    ("Greatest bore with its keyway", "max_bore_mm"),
    ("Keyway width", "keyway_width_mm"),
    ("Keyway depth in the hub", "keyway_depth_mm"),
    ("Key height", "key_height_mm"),
    ("Key length", "key_length_mm"),
    ("Hexagon across flats", "hex_across_flats_mm"),
    ("Hub diameter", "hub_diameter_mm"),
    ("Other hub diameter", "hub_diameter_2_mm"),
    ("Length through bore", "length_through_bore_mm"),
    ("Outside diameter", "outside_diameter_mm"),
    ("Tooth width", "tooth_width_mm"),
    ("Chain pitch", "pitch_mm"),
    ("Roller diameter", "roller_diameter_mm"),
    ("Inner width of the chain", "inner_width_mm"),
    ("Between the strands", "transverse_pitch_mm"),
)
MEASURES = (
    ("Over the bottoms, as a calliper reads it", "caliper_diameter_mm"),
    ("Outside diameter, as usually turned", "outside_diameter_mm"),
    ("Outside diameter, smallest", "outside_diameter_min_mm"),
    ("Outside diameter, largest", "outside_diameter_max_mm"),
    ("Tooth width of one row", "tooth_width_mm"),
    ("Width over all rows", "width_over_strands_mm"),
    ("Pitch circle", "pitch_diameter_mm"),
    ("Root circle", "root_diameter_mm"),
    ("Measuring pin", "measuring_pin_diameter_mm"),
    ("Over the pins", "over_pins_mm"),
    ("Greatest hub that clears the chain", "max_hub_diameter_mm"),
)


def lengths_of(record: Specification | None) -> list[tuple[str, float]]:
    """The lengths that are recorded, in the order in which a part is measured."""
    if record is None:
        return []
    return [(label, float(value)) for label, name in LENGTHS if (value := getattr(record, name)) is not None]


def form_of(record: Specification | None, attributes: Sprocket | None) -> ToothForm | None:
    """The standard's teeth for this part; None outside any standard or where the count is not known."""
    chain = record.standard_chain() if record is not None and attributes is not None else None
    if chain is None or record is None or record.teeth is None:
        return None
    can_be_double_cut = chain.is_double_pitch and not chain.has_large_rollers
    single_cut = not (can_be_double_cut and record.single_cut is False)
    return tooth_form(chain, record.teeth, record.strands or 1, single_cut=single_cut)


def measures_of(form: ToothForm | None) -> Iterable[tuple[str, float]]:
    if form is None:
        return []
    return [(label, value) for label, name in MEASURES if (value := getattr(form, name)) is not None]

"""From a record to the value that the cores judge: lengths as floats, words as words, `None` where not known."""

from decimal import Decimal
from enum import StrEnum
from typing import TypeVar

from inventory.interchange.requirement import Engagement, Sprocket
from inventory.interchange.vocabulary import BoreType, HubStyle, KeyStandard, Material, RoleKind
from inventory.models import Specification
from inventory.models.engagement import ChainEngagement

Word = TypeVar("Word", bound=StrEnum)


def number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def word_or_none(words: type[Word], value: str) -> Word | None:
    return words(value) if value else None


def engagement_of(record: ChainEngagement) -> Engagement | None:
    """The engagement of a record: its standard chain, or its own dimensions when all three are known."""
    chain = record.standard_chain()
    if chain is not None:
        return Engagement.of(chain)
    if record.pitch_mm is None or record.roller_diameter_mm is None or record.inner_width_mm is None:
        return None
    return Engagement(
        pitch_mm=float(record.pitch_mm),
        roller_diameter_mm=float(record.roller_diameter_mm),
        inner_width_mm=float(record.inner_width_mm),
        transverse_pitch_mm=number(record.transverse_pitch_mm),
    )


def attributes_of(record: Specification) -> Sprocket:
    """The generic attributes of a sprocket record."""
    return Sprocket(
        chain=engagement_of(record),
        teeth=record.teeth,
        strands=record.strands,
        role_kind=word_or_none(RoleKind, record.role_kind),
        hub_style=word_or_none(HubStyle, record.hub_style),
        bore_type=word_or_none(BoreType, record.bore_type),
        bore_mm=number(record.bore_mm),
        max_bore_mm=number(record.max_bore_mm),
        keyway_width_mm=number(record.keyway_width_mm),
        keyway_depth_mm=number(record.keyway_depth_mm),
        key_standard=word_or_none(KeyStandard, record.key_standard),
        set_screws=record.set_screws,
        bush_size=record.bush_size or None,
        hex_across_flats_mm=number(record.hex_across_flats_mm),
        hub_diameter_mm=number(record.hub_diameter_mm),
        hub_diameter_2_mm=number(record.hub_diameter_2_mm),
        length_through_bore_mm=number(record.length_through_bore_mm),
        outside_diameter_mm=number(record.outside_diameter_mm),
        tooth_width_mm=number(record.tooth_width_mm),
        material=word_or_none(Material, record.material),
        material_grade=record.material_grade or None,
        hardened_teeth=record.hardened_teeth,
        food_contact=record.food_contact,
        non_sparking=record.non_sparking,
        single_cut=record.single_cut,
        mass_kg=number(record.mass_kg),
    )

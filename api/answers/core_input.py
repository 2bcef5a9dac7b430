"""Input of the cores: the plain fields of a dataclass as members, each within what is plausible."""

from collections.abc import Mapping
from dataclasses import MISSING, fields
from decimal import Decimal
from enum import Enum
from typing import Any, ClassVar, TypeVar

from api.answers.derived_members import hint_of, words_of
from api.edge.parsing import (
    LengthField,
    StrictBooleanField,
    StrictCharField,
    StrictChoiceField,
    StrictFloatField,
    StrictIntegerField,
    StrictSerializer,
)
from inventory.standards.tooth_counts import COUNTED_TEETH, STRANDS

Core = TypeVar("Core")
LIMITS: Mapping[str, tuple[float, float]] = {
    "pitch_mm": (4, 200),
    "roller_diameter_mm": (2, 150),
    "inner_width_mm": (1.5, 150),
    "transverse_pitch_mm": (4, 300),
    "strands": STRANDS,
    "teeth": COUNTED_TEETH,
    "minimum_teeth": COUNTED_TEETH,
    "mating_teeth": COUNTED_TEETH,
    "bore_mm": (4, 600),
    "max_bore_mm": (4, 600),
    "diameter_mm": (4, 600),
    "keyway_width_mm": (1.5, 110),
    "keyway_depth_mm": (0.5, 60),
    "key_width_mm": (1.5, 110),
    "key_height_mm": (1.5, 60),
    "set_screws": (0, 8),
    "hex_across_flats_mm": (4, 300),
    "across_flats_mm": (4, 300),
    "hub_diameter_mm": (8, 1_500),
    "hub_diameter_2_mm": (8, 1_500),
    "length_through_bore_mm": (3, 1_000),
    "outside_diameter_mm": (12, 10_000),
    "caliper_diameter_mm": (8, 10_000),
    "tooth_width_mm": (1.5, 150),
    "overall_width_mm": (1.5, 2_000),
    "chord_mm": (4, 5_000),
    "chord_gaps": (1, COUNTED_TEETH[1] // 2),
    "mass_kg": (0.001, 20_000),
    "power_kw": (0.0001, 10_000),
    "speed_rpm": (0.001, 20_000),
    "driver_speed_rpm": (0.001, 20_000),
    "service_factor": (0.5, 5),
    "centre_distance_mm": (40, 50_000),
    "links": (6, 20_000),
    "ratio_tolerance_percent": (0, 100),
    "elongation_percent": (-1, 20),
}
LONGEST_TEXT = {"chain": 12, "bush_size": 6, "material_grade": 30, "lubrication": 20}


# `members` of the dataclass `of`: what has a default there may be left out, what may be None there may be null.
class CoreInputSerializer(StrictSerializer):
    of: ClassVar[type]
    members: ClassVar[str] = ""

    def get_fields(self) -> dict[str, Any]:
        declared = super().get_fields()
        return declared | {
            name: input_field(self.of, name) for name in self.members.split() if name not in declared
        }


def input_field(of: Any, name: str) -> Any:
    kind, is_optional = hint_of(of, name)
    default = next(one.default for one in fields(of) if one.name == name)
    options: dict[str, Any] = {"required": default is MISSING, "allow_null": is_optional}
    if words := words_of(kind):
        return StrictChoiceField(choices=words, **options)
    if kind is bool:
        return StrictBooleanField(**options)
    if kind is str:
        return StrictCharField(max_length=LONGEST_TEXT[name], **options)
    low, high = LIMITS[name]
    if name.endswith("_mm"):
        return LengthField(min_mm=low, max_mm=high, **options)
    number = StrictIntegerField if kind is int else StrictFloatField
    return number(min_value=low, max_value=high, **options)


def core_object(of: type[Core], body: Mapping[str, Any]) -> Core:
    """Words as members of their vocabulary, lengths as plain numbers."""
    return of(**{name: core_value(of, name, value) for name, value in body.items()})


def core_value(of: type, name: str, value: Any) -> Any:
    if isinstance(value, Decimal):
        return float(value)
    kind, _ = hint_of(of, name)
    return kind(value) if isinstance(value, str) and issubclass(kind, Enum) else value

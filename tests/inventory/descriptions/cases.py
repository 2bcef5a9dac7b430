"""Expected attributes in files, and their comparison with what was read."""

import csv
from collections.abc import Iterator, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from inventory.descriptions.reading import DescriptionReading

HERE = Path(__file__).parent
TOLERANCE_MM = 0.001
MOUNTS = {
    "pilot": {"bore_type": "plain"},
    "solid": {"bore_type": "plain"},
    "finished": {"bore_type": "finished"},
    "taper_bush": {"bore_type": "tapered"},
    "qd": {"bore_type": "qd"},
    "idler_bearing": {"bore_type": "bearing", "role_kind": "idler"},
    "idler_bushed": {"bore_type": "bearing", "role_kind": "idler"},
    "split": {"bore_type": "split"},
    "weld_on": {"hub_style": "weld_on"},
    "shear_pin": {"shear_pin": True},
}
MATERIALS = {
    "steel": {"material": "carbon_steel"},
    "C45": {"material": "carbon_steel", "material_grade": "C45"},
    "EN8": {"material": "carbon_steel", "material_grade": "EN8"},
    "cast iron": {"material": "cast_iron"},
    "stainless 304": {"material": "stainless_steel", "material_grade": "304"},
    "stainless 316": {"material": "stainless_steel", "material_grade": "316"},
    "acetal": {"material": "plastic", "material_grade": "acetal"},
    "plastic": {"material": "plastic"},
    "aluminium": {"material": "aluminium"},
}
OUTCOMES = {"parsed": "parsed", "needs_review": "needs_review", "reject": "rejected"}
BASES = {"stated": "stated", "implied by code": "implied", "assumed, not stated": "assumed"}


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("# ")))


def stated_attributes(row: Mapping[str, str]) -> dict[str, Any]:
    """What a row of the stated descriptions expects, in the names of a specification."""
    expected: dict[str, Any] = {name: row[name] for name in ("chain", "hub_style") if row[name]}
    if row["strands"]:
        expected["strands"] = row["strands"] if "x" in row["strands"] else int(row["strands"])
    if row["teeth"]:
        expected["teeth"] = int(row["teeth"])
    if row["bush"]:
        expected["bush_size"] = row["bush"]
    if row["bore_mm"]:
        expected["bore_mm"] = float(row["bore_mm"])
    if row["set_screw"]:
        expected["set_screw"] = True
    if row["hardened"]:
        expected["hardened_teeth"] = True
    return (
        expected
        | MOUNTS.get(row["mount"], {})
        | MATERIALS.get(row["material"], {})
        | dict(_key(row["keyway"]))
    )


def _key(text: str) -> Iterator[tuple[str, Any]]:
    if not text:
        return
    yield "keyway", True
    unit, _, sizes = text.partition(":")
    if sizes:
        factor = Fraction("25.4") if unit == "in" else Fraction(1)
        width, _, second = sizes.partition("x")
        yield "keyway_width_mm", float(Fraction(width) * factor)
        if second:
            # 8x7 is the section of a key; 14x3.8 and 3/8x3/16 are width and depth in the hub.
            name = "key_height_mm" if sizes == "8x7" else "keyway_depth_mm"
            yield name, float(Fraction(second) * factor)


def written_attributes(text: str) -> dict[str, Any]:
    """`chain=60 teeth=18 keyway=True` as values."""
    pairs = (pair.partition("=") for pair in text.split())
    return {name: value == "True" if value in ("True", "False") else value for name, _, value in pairs}


def is_equal(name: str, expected: Any, found: Any) -> bool:
    if found is None or isinstance(expected, bool) or isinstance(found, bool):
        return found is expected
    if name.endswith(("_mm", "_kg")):
        return abs(float(expected) - float(found)) < TOLERANCE_MM
    return str(expected) == str(found)


def values_of(reading: DescriptionReading) -> dict[str, Any]:
    return {name: found.value for name, found in reading.attributes.items()}


def differences(expected: Mapping[str, Any], reading: DescriptionReading) -> dict[str, tuple[Any, Any]]:
    """Expected attributes that were read otherwise or not at all."""
    found = values_of(reading)
    return {
        name: (value, found.get(name))
        for name, value in expected.items()
        if not is_equal(name, value, found.get(name))
    }


def surplus(expected: Mapping[str, Any], reading: DescriptionReading) -> dict[str, Any]:
    """Attributes that were read and not expected; what is marked as assumed hides nothing."""
    return {
        name: found.value
        for name, found in reading.attributes.items()
        if name not in expected and found.basis != "assumed"
    }

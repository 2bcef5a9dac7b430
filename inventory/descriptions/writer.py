"""Storeroom descriptions from attributes: noun first, in five languages, as the reader reads them.

What does not fit is left out, the least telling first; what is left out is never replaced by something shorter and doubtful.
"""

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from functools import cache
from typing import Any

from inventory.descriptions.codes import INCH_CHAINS
from inventory.descriptions.key_sizes import second_size
from inventory.descriptions.lengths import inch_text
from inventory.descriptions.lexicon import lexicon_rows
from inventory.standards.sizes import MM_PER_INCH

LANGUAGES = ("en", "de", "fr", "es", "it")
IN_DESIGNATION = 8
"""ISO 606 names up to three strands in the designation; the trade writes more in the same way."""
SIXTEENTHS = 16
MOST_INCHES = 10
"""The reader takes no more than one digit before the fraction."""
SAME_MM = 1e-4
ORDER = (
    *("noun", "chain", "teeth", "role_kind", "hub_style", "bore", "keyway", "set_screws", "hardened_teeth"),
    *("material", "max_bore_mm", "hub_diameter_mm", "length_through_bore_mm", "outside_diameter_mm"),
    *("tooth_width_mm", "single_cut", "mass_kg"),
)
"""In the line; each is left out before those that tell more."""
TELLING = (
    *("noun", "chain", "teeth", "bore", "role_kind", "hub_style", "material", "hardened_teeth", "keyway"),
    *("set_screws", "max_bore_mm", "hub_diameter_mm", "length_through_bore_mm", "single_cut"),
    *("outside_diameter_mm", "tooth_width_mm", "mass_kg"),
)
LONE_LENGTHS = (
    *("max_bore_mm", "hub_diameter_mm", "length_through_bore_mm", "outside_diameter_mm", "tooth_width_mm"),
)
Say = Callable[..., str]


@cache
def _phrases() -> dict[tuple[str, str, str], dict[str, str]]:
    return {(row["topic"], row["value"], row["form"]): row for row in lexicon_rows("phrases")}


def _phrase(language: str, form: str) -> Say:
    def say(topic: str, value: object = "", shown: object = "") -> str:
        found = _phrases().get((topic, str(value), form)) or _phrases().get((topic, str(value), "long"))
        return found[language].format(shown) if found else ""

    return say


def _length(millimetres: float, *, in_inches: bool) -> str:
    """1-7/16" for a sixteenth of an inch on an inch part, else millimetres."""
    sixteenths = millimetres / MM_PER_INCH * SIXTEENTHS
    is_sixteenth = abs(sixteenths - round(sixteenths)) < SAME_MM and sixteenths < MOST_INCHES * SIXTEENTHS
    if in_inches and is_sixteenth and abs(millimetres - round(millimetres)) > SAME_MM:
        return f'{inch_text(Fraction(round(sixteenths), SIXTEENTHS))}"'
    return f"{millimetres:.6f}".rstrip("0").rstrip(".") + " MM"


def _chain(attributes: Mapping[str, Any], say: Say) -> str:
    chain, strands = attributes.get("chain"), attributes.get("strands")
    if not chain:
        return ""
    name = str(chain)
    takes_strands = name.removesuffix("H") in INCH_CHAINS or name.removesuffix("H")[-1:] in ("A", "B", "C")
    is_short = len(name.removesuffix("H")) <= len("240")
    if isinstance(strands, int) and strands <= IN_DESIGNATION and takes_strands and is_short:
        return f"{name}-{strands}"
    shown = f"#{name}" if name.isdigit() and len(name) <= len("428") and not name.startswith("0") else name
    if not isinstance(strands, int):
        return shown
    return f"{shown} {say('strands', strands) or say('strands', '', strands)}"


def _teeth(attributes: Mapping[str, Any], say: Say) -> str:
    teeth = attributes.get("teeth")
    if teeth is None:
        return ""
    counted = attributes.get("teeth_counted")
    said = say("teeth", "", teeth)
    return f"{said} {say('teeth_counted', counted)}" if counted else said


def _bore(attributes: Mapping[str, Any], say: Say, *, in_inches: bool) -> str:
    kind, bore, size = (attributes.get(name) for name in ("bore_type", "bore_mm", "bush_size"))
    across = attributes.get("hex_across_flats_mm")
    parts = [say("bore_type", kind)] if kind and not (kind == "finished" and bore) else []
    if size:
        parts.append(str(size))
    if across and kind == "hex":
        parts.append(_length(float(across), in_inches=in_inches))
    elif bore and kind == "plain":
        parts.append(_length(float(bore), in_inches=in_inches))
    elif bore and kind not in ("tapered", "qd"):
        parts.append(say("bore_mm", "", _length(float(bore), in_inches=in_inches)))
    return " ".join(part for part in parts if part)


def _keyway(attributes: Mapping[str, Any], say: Say, *, in_inches: bool) -> str:
    width, depth = attributes.get("keyway_width_mm"), attributes.get("keyway_depth_mm")
    if not width:
        return ""
    shown = _length(float(width), in_inches=in_inches)
    if depth and second_size(float(width), float(depth)) == "keyway_depth_mm":
        second = _length(float(depth), in_inches=in_inches)
        if shown.endswith('"') == second.endswith('"'):
            shown = f"{shown.removesuffix(' MM')} X {second}"
    return say("keyway_width_mm", "", shown)


def _material(attributes: Mapping[str, Any], say: Say) -> str:
    material, grade = attributes.get("material"), attributes.get("material_grade")
    if not material:
        return ""
    written = next(
        (
            row["written"]
            for row in lexicon_rows("grades")
            if (row["material"], row["grade"]) == (material, grade)
            and (row["stands_alone"] == "yes" or str(grade).isdigit())
        ),
        "",
    )
    return f"{say('material', material)} {written}".strip()


def _pieces(attributes: Mapping[str, Any], say: Say) -> Iterator[tuple[str, str]]:
    in_inches = str(attributes.get("chain", "")).removesuffix("H") in INCH_CHAINS
    yield "noun", say("noun")
    yield "chain", _chain(attributes, say)
    yield "teeth", _teeth(attributes, say)
    yield "bore", _bore(attributes, say, in_inches=in_inches)
    yield "keyway", _keyway(attributes, say, in_inches=in_inches)
    yield "material", _material(attributes, say)
    for name in ("role_kind", "hub_style", "hardened_teeth", "single_cut"):
        if attributes.get(name) is not None:
            yield name, say(name, attributes[name])
    if attributes.get("set_screws"):
        yield "set_screws", say("set_screws", "", attributes["set_screws"])
    for name in LONE_LENGTHS:
        if attributes.get(name):
            yield name, say(name, "", _length(float(attributes[name]), in_inches=in_inches))
    if attributes.get("mass_kg"):
        yield "mass_kg", say("mass_kg", "", f"{float(attributes['mass_kg']):g}")


def _line(pieces: Mapping[str, str], names: set[str]) -> str:
    return " ".join(pieces[name] for name in ORDER if name in names and pieces.get(name))


def write_description(attributes: Mapping[str, Any], *, language: str, most_characters: int) -> str:
    """A description of at most so many characters; attributes as in a specification.

    >>> write_description({"chain": "08B", "strands": 1, "teeth": 17}, language="de", most_characters=40)
    'KETTENRAD 08B-1 17 ZÄHNE'
    """
    line = ""
    for form in ("long", "short"):
        pieces = dict(_pieces(attributes, _phrase(language, form)))
        line = _line(pieces, set(pieces))
        if len(line) <= most_characters:
            return line
    chosen: set[str] = set()
    for name in TELLING:
        if name in pieces and len(_line(pieces, chosen | {name})) <= most_characters:
            chosen.add(name)
    return _line(pieces, chosen)

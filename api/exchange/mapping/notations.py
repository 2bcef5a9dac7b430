"""Cells that say two things: `12A-1` is a chain with its strands, `12x8` a key or a keyway, `2012-35` a bush with its bore."""

import re
from collections.abc import Callable, Mapping

from api.wire.cells import Cell
from inventory.descriptions.codes import read_code
from inventory.descriptions.key_sizes import second_size
from inventory.descriptions.letters import folded
from inventory.standards.sizes import inches_to_mm

Parts = dict[str, Cell]
PAIR = re.compile(
    r"(?P<one>[0-9][0-9.,/ -]*?)\s*(?P<unit_one>mm|in|\"|″|'')?\s*[x×*X]\s*(?P<two>[0-9][0-9.,/ -]*?)\s*(?P<unit>mm|in|\"|″|'')?"
)
BUSH = re.compile(
    r"(?:[A-Za-z]+[ .-]*)?(?P<size>[1-9][0-9]{3})(?:\s*[-/ xX×]\s*(?P<bore>[0-9][0-9.,/ -]*\s*(?:mm|in|\")?))?"
)


def chain_and_strands(text: str) -> Parts:
    """Words before the code, such as `ANSI`, `DIN 8187` or `Rollenkette`, say nothing more."""
    line = folded(text.strip())
    for at in range(len(line)):
        if at and line[at - 1].isalnum():
            continue
        found = read_code(line, at)
        if found and found[1] == len(line):
            code = found[0]
            if code.teeth is not None or not isinstance(code.strands, int | None) or code.doubts:
                break
            said = code.is_strands_said and code.strands is not None
            return {"chain": code.chain, **({"strands": code.strands} if said else {})}
    return {"chain": text}


def key_section(text: str) -> Parts:
    """A shaft with a key is keyed."""
    found = PAIR.fullmatch(text.strip())
    if not found:
        return {"key_width_mm": text}
    unit = found["unit"] or found["unit_one"] or ""
    return {
        "shaft_kind": "keyed",
        "key_width_mm": f"{found['one']} {unit}".strip(),
        "key_height_mm": f"{found['two']} {unit}".strip(),
    }


def keyway(text: str) -> Parts:
    """`12x8` names the key, whose height follows from its width; `12x3.3` names the depth in the hub too."""
    found = PAIR.fullmatch(text.strip())
    if not found:
        return {"keyway_width_mm": text}
    unit = found["unit"] or found["unit_one"] or ""
    width, other = f"{found['one']} {unit}".strip(), f"{found['two']} {unit}".strip()
    try:
        is_depth = second_size(millimetres(width), millimetres(other)) == "keyway_depth_mm"
        is_height = second_size(millimetres(width), millimetres(other)) == "key_height_mm"
    except ValueError:
        return {"keyway_width_mm": text}
    if is_depth:
        return {"keyway_width_mm": width, "keyway_depth_mm": other}
    return {"keyway_width_mm": width if is_height else text}


def millimetres(text: str) -> float:
    if "/" in text or text.endswith(("in", '"', "″", "''")):
        return float(inches_to_mm(text))
    return float(text.removesuffix("mm").strip().replace(",", "."))


def bush_and_bore(text: str) -> Parts:
    found = BUSH.fullmatch(text.strip())
    if not found:
        return {"bush_size": text}
    return {"bush_size": found["size"], **({"bore_mm": found["bore"]} if found["bore"] else {})}


SPLITTERS: Mapping[str, Callable[[str], Parts]] = {
    "chain": chain_and_strands,
    "key_width_mm": key_section,
    "keyway_width_mm": keyway,
    "bush_size": bush_and_bore,
}
"""By the column that is mapped to the heading; other columns of the result are filled where they have no cell of their own."""


def parts_of(column: str, cell: Cell) -> Parts:
    splitter = SPLITTERS.get(column)
    return splitter(cell) if splitter and isinstance(cell, str) else {column: cell}

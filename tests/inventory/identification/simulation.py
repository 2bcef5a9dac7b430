"""Sprockets drawn from the ranges of the standards, worn and read by other people, without help from the code under test.

Formulas are written out again from ISO 606 (tip diameter range, h14 of the tooth width) and a printed catalogue quoting ISO/R 606 (root
tolerance). Several worlds differ in what the standards leave open: where makers aim, how wear goes, how well somebody reads.
"""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from inventory.identification.readings import Readings
from inventory.standards.chains import Chain, chains

H14_MM = ((3, 0.25), (6, 0.30), (10, 0.36), (18, 0.43), (30, 0.52), (50, 0.62), (80, 0.74))
USUAL_TEETH = (9, 60)
LARGE_MM = 150


@dataclass(frozen=True)
class World:
    """What a simulation takes for granted. `aim`: where in its tolerance a new part lies; `wear_on`: diameter or radius."""

    aim: str = "even"
    wear_share: float = 0.06
    wear_on: str = "diameter"
    wear_together: bool = False
    side_wear_share: float = 0.02
    reading_error_mm: float = 0.05
    tape_error_mm: float = 0.3
    read_over: tuple[float, float, float] = (0.6, 0.2, 0.2)
    dirt_share: float = 0.0
    bottom_as_root: float = 0.0
    miscounted: float = 0.0
    series: tuple[str, ...] = ("A", "B")
    strands: tuple[int, ...] = (1,)
    worn_share: float = 1.0
    says_worn: bool | None = True


@dataclass(frozen=True)
class DrawnPart:
    chain: Chain
    strands: int
    teeth: int
    lengths_mm: dict[str, float]
    readings: Readings


def usual_chains(world: World) -> list[Chain]:
    found = [one for one in chains() if one.series in world.series]
    return [one for one in found if max(world.strands) == 1 or one.transverse_pitch_mm is not None]


def draw(world: World, dice: random.Random, measured: Sequence[str]) -> DrawnPart:
    chain, strands = dice.choice(usual_chains(world)), dice.choice(world.strands)
    teeth = dice.randint(*USUAL_TEETH)
    lengths = worn_lengths(world, dice, chain, strands, teeth)
    known: dict[str, Any] = {name: read(world, dice, name, lengths[name]) for name in measured}
    known["chord_gaps"] = 3 if "chord_mm" in measured else None
    counted = teeth + dice.choice((-1, 1)) * (dice.random() < world.miscounted)
    readings = Readings(teeth=counted, strands=strands, worn=world.says_worn, **known)
    return DrawnPart(chain, strands, teeth, lengths, readings)


def worn_lengths(
    world: World, dice: random.Random, chain: Chain, strands: int, teeth: int
) -> dict[str, float]:
    p, d1, b1 = chain.pitch_mm, chain.roller_diameter_mm, chain.inner_width_mm
    d = p / math.sin(math.pi / teeth)
    outside = between(world, dice, d + p * (1 - 1.6 / teeth) - d1, d + 1.25 * p - d1)
    if world.aim == "turned":
        outside = p * (0.6 + 1 / math.tan(math.pi / teeth)) - dice.uniform(0, 0.04) * p
    root = d - d1
    tolerance = 0.25 if root <= 127 else 0.30 if root <= 250 else 0.36
    below = tolerance - between(world, dice, 0, tolerance)
    is_narrow = p <= 12.7
    width = ((0.93 if strands == 1 else 0.91) if is_narrow else (0.95 if strands == 1 else 0.93)) * b1
    h14 = next((one for up_to, one in H14_MM if width <= up_to), 0.87)
    width -= h14 - between(world, dice, 0, h14)
    tips = seats = sides = 0.0
    if dice.random() < world.worn_share:
        twice = 2 if world.wear_on == "radius" else 1
        tips, seats = (dice.uniform(0, world.wear_share) * p * twice for _ in range(2))
        seats = tips if world.wear_together else seats
        sides = dice.uniform(0, world.side_wear_share) * p
    mode = dice.choices((0, 1, 2), world.read_over)[0] if teeth % 2 else 0
    outside = (outside - tips) * math.cos(math.pi / (2 * teeth)) ** mode
    is_root = teeth % 2 == 0 or dice.random() < world.bottom_as_root
    across = d if is_root else d * math.cos(math.pi / (2 * teeth))
    dirt = dice.uniform(0, 0.5) if dice.random() < world.dirt_share else 0.0
    over_rows = (strands - 1) * (chain.transverse_pitch_mm or 0.0)
    return {
        "outside_diameter_mm": outside,
        "caliper_diameter_mm": across - d1 - below - seats + dirt,
        "tooth_width_mm": width - sides,
        "overall_width_mm": over_rows + width - sides,
        "chord_mm": d * math.sin(3 * math.pi / teeth),
    }


def between(world: World, dice: random.Random, least: float, most: float) -> float:
    """Even over the tolerance, near its middle, or near the size that is aimed at, the larger limit."""
    if world.aim == "middle":
        return min(max(dice.gauss((least + most) / 2, (most - least) / 6), least), most)
    if world.aim == "nominal":
        return most - 0.1 * (most - least) * dice.random()
    return dice.uniform(least, most)


def read(world: World, dice: random.Random, name: str, length_mm: float) -> float:
    error_mm = world.reading_error_mm if length_mm <= LARGE_MM else world.tape_error_mm
    return round(length_mm + dice.gauss(0, error_mm), 2)

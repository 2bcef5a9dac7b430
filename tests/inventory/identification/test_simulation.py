"""Worn sprockets that were drawn without the code under test are found again, and the probabilities mean what they say."""

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import pytest

from inventory.identification.identify import LEAST_LISTED
from inventory.identification.posterior import posterior
from inventory.identification.rims import Rim
from tests.inventory.identification.simulation import DrawnPart, World, draw

OUTSIDE = ("outside_diameter_mm",)
TWO = ("outside_diameter_mm", "tooth_width_mm")
THREE = ("outside_diameter_mm", "caliper_diameter_mm", "tooth_width_mm")

WORN = World()
NEW = World(worn_share=0.0, says_worn=False)
OTHERS = {
    "worn on the radius": replace(WORN, wear_on="radius"),
    "tips and seats worn alike": replace(WORN, wear_together=True),
    "sides rubbed as deep": replace(WORN, side_wear_share=0.06),
    "made in the middle of the tolerance": replace(WORN, aim="middle"),
    "turned outside": replace(WORN, aim="turned"),
    "read to 0.1 mm": replace(WORN, reading_error_mm=0.1),
    "all read over flats": replace(WORN, read_over=(0.0, 0.0, 1.0)),
    "dirt in some gaps": replace(WORN, dirt_share=0.2),
    "nobody says whether it is worn": replace(WORN, worn_share=0.5, says_worn=None),
    "heavy chains too": replace(WORN, series=("A", "B", "H")),
    "two rows": replace(WORN, strands=(2,)),
    "one count in thirty is wrong": replace(WORN, miscounted=1 / 30),
}


@dataclass(frozen=True)
class Found:
    is_listed: bool
    is_pitch_first: bool
    is_rim_first: bool
    probability: float


def found(part: DrawnPart) -> Found:
    shares = posterior(part.readings).of_rims()
    own = next(rim for rim in shares if is_own(rim, part))
    first = max(shares, key=lambda rim: shares[rim])
    return Found(
        shares[own] >= LEAST_LISTED,
        abs(first.chain.pitch_mm - part.chain.pitch_mm) < 0.03,
        first == own,
        shares[first],
    )


def is_own(rim: Rim, part: DrawnPart) -> bool:
    return part.chain in rim.chains and rim.strands == part.strands and rim.single_cut


def runs(world: World, measured: Sequence[str], count: int, seed: int) -> Iterator[Found]:
    dice = random.Random(seed)
    return (found(draw(world, dice, measured)) for _ in range(count))


def share(values: Sequence[bool]) -> float:
    return sum(values) / len(values)


@pytest.fixture(scope="module")
def worn_parts() -> list[Found]:
    return [one for measured in (OUTSIDE, TWO, THREE) for one in runs(WORN, measured, 100, 11)]


@pytest.fixture(scope="module")
def new_parts() -> list[Found]:
    return list(runs(NEW, THREE, 200, 12))


@pytest.fixture(scope="module")
def other_parts() -> dict[str, list[Found]]:
    return {name: list(runs(world, THREE, 40, 13)) for name, world in OTHERS.items()}


def test_the_true_chain_is_listed(worn_parts: list[Found], new_parts: list[Found]) -> None:
    assert share([one.is_listed for one in worn_parts + new_parts]) >= 0.98


def test_the_right_pitch_comes_first(worn_parts: list[Found], new_parts: list[Found]) -> None:
    assert share([one.is_pitch_first for one in worn_parts + new_parts]) >= 0.97


def test_the_right_rim_comes_first_with_three_readings_on_a_new_part(new_parts: list[Found]) -> None:
    assert share([one.is_rim_first for one in new_parts]) >= 0.85


def test_other_makers_wear_and_readers_are_no_surprise(other_parts: dict[str, list[Found]]) -> None:
    for name, parts in other_parts.items():
        assert share([one.is_listed for one in parts]) >= 0.98, name
        assert share([one.is_pitch_first for one in parts]) >= 0.95, name


def test_of_those_given_70_to_80_percent_about_as_many_are_right(
    worn_parts: list[Found], new_parts: list[Found], other_parts: dict[str, list[Found]]
) -> None:
    three_readings = [one for parts in other_parts.values() for one in parts] + new_parts
    given = [one for one in worn_parts + three_readings if 0.7 <= one.probability < 0.8]

    assert len(given) > 60
    assert 0.65 <= share([one.is_rim_first for one in given]) <= 0.85


def test_of_those_given_90_percent_and_more_nearly_all_are_right(
    other_parts: dict[str, list[Found]],
) -> None:
    given = [one for parts in other_parts.values() for one in parts if one.probability >= 0.9]

    assert len(given) > 200
    assert share([one.is_rim_first for one in given]) >= 0.96

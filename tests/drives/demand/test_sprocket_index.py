"""What a position looks at is enough: the cover is that of every sprocket judged at every position.

Random sprockets and positions around a few pitches. `PROOF=long` judges 2,000 sprockets.
"""

import os
import random
from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from typing import Any

import pytest
from django.utils import timezone

from drives.demand.cover import CoverEdge
from drives.demand.cover_refresh import CoverInputs, Judges
from drives.demand.sprocket_index import FIRST, FirstChecks, SprocketIndex
from drives.models import Position
from drives.place.duty import Duty, PlacedPart
from drives.place.missing_attributes import blocking_attributes
from drives.place.verdict import judge_for_place
from drives.substitutes.position_requirement import PositionRequirement
from drives.substitutes.rules_here import RuleBook
from inventory.catalogue.shortlist import could_engage, tooth_range
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Engagement, Envelope, Requirement, Shaft, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import (
    BoreType,
    Environment,
    Grade,
    HubStyle,
    Material,
    PositionRole,
    ShaftKind,
)
from inventory.standards.chains import find_chain
from tests.examples import IS_LONG

SPROCKETS, POSITIONS = (2_000, 25) if IS_LONG else (90, 14)
CHAINS = [Engagement.of(find_chain(name)) for name in ("08B", "08A", "085", "12B", "212B", "60H")]
BORES = (19.05, 20.0, 24.0, 25.0, 25.4, 28.0, 38.0)
BUSHES = ("1210", "1610", "1615", "2012")
TEETH = (17, 19, 19, 19, 20, 38)
MATERIALS = tuple(Material)


def some_sprocket(dice: random.Random) -> Sprocket:
    """Mostly known, here and there a hole; about half of them would do somewhere."""

    def maybe(value: Any, chance: float = 0.9) -> Any:
        return value if dice.random() < chance else None

    kind = dice.choice((BoreType.FINISHED, BoreType.FINISHED, *BoreType))
    is_round = kind not in (BoreType.TAPERED, BoreType.QD, BoreType.HEX)
    return Sprocket(
        chain=maybe(dice.choice(CHAINS), 0.97),
        teeth=maybe(dice.choice(TEETH), 0.95),
        strands=maybe(dice.choice((1, 1, 1, 2))),
        hub_style=maybe(dice.choice(tuple(HubStyle))),
        bore_type=maybe(kind, 0.97),
        bore_mm=maybe(dice.choice(BORES)) if is_round else None,
        max_bore_mm=maybe(42.0, 0.6) if is_round else None,
        keyway_width_mm=maybe(dice.choice((6.0, 8.0)), 0.8) if is_round else None,
        set_screws=maybe(2, 0.3),
        bush_size=None if is_round else maybe(dice.choice(BUSHES)),
        hex_across_flats_mm=maybe(25.4) if kind is BoreType.HEX else None,
        hub_diameter_mm=maybe(dice.choice((45.0, 60.0, 90.0)), 0.8),
        length_through_bore_mm=maybe(dice.choice((28.0, 35.0)), 0.8),
        tooth_width_mm=maybe(7.2, 0.1),
        material=maybe(dice.choice(MATERIALS), 0.7),
        hardened_teeth=maybe(dice.random() < 0.5, 0.3),
        single_cut=maybe(dice.random() < 0.5, 0.7),
    )


def some_position(dice: random.Random, number: int, parts: Sequence[Sprocket]) -> PositionRequirement:
    """A shaft on a drive, or what a part lends."""
    if dice.random() < 0.4:
        required = replace(requirement_of(dice.choice(parts)), role=PositionRole.DRIVEN)
    else:
        kind = dice.choice((ShaftKind.KEYED, ShaftKind.KEYED, *ShaftKind))
        is_hex = kind is ShaftKind.HEX
        required = Requirement(
            chain=dice.choice(CHAINS),
            strands=dice.choice((1, 1, 2)),
            teeth=dice.choice((19, 19, 17, None)),
            role=dice.choice((*PositionRole, PositionRole.DRIVER)),
            shaft=Shaft(
                kind=kind,
                diameter_mm=None if is_hex else dice.choice(BORES),
                key_width_mm=dice.choice((6.0, 8.0)),
                across_flats_mm=25.4 if is_hex else None,
                bush_size=dice.choice((None, *BUSHES)),
            ),
            material=dice.choice((None, *MATERIALS)),
            environment=frozenset(dice.sample(tuple(Environment), dice.choice((0, 0, 1)))),
            envelope=Envelope(length_through_bore_mm=dice.choice((None, 30.0))),
        )
    duty = Duty(
        power_kw=dice.choice((None, 1.1)),
        speed_rpm=60,
        service_factor=dice.choice((None, 1.0, 1.5)),
        mating_teeth=dice.choice((None, 38)),
        centre_distance_mm=600,
        fixed_centres=dice.random() < 0.3,
        ratio_tolerance_percent=dice.choice((None, 2, 20)),
        lifting=dice.random() < 0.1,
    )
    return PositionRequirement(Position(pk=number), None, None, required, duty, ())


def of_every_pair(asked: PositionRequirement, fitted: int | None, judges: Judges) -> Iterator[CoverEdge]:
    """The rule, judged for every sprocket that could engage at all."""
    span = tooth_range(asked.required, asked.duty.ratio_tolerance_percent)
    for item, offered in judges.sprockets.items():
        if could_engage(asked.required, offered, span, judges.practice):
            verdict = judge_for_place(asked.required, offered, duty=asked.duty, practice=judges.practice)
            if item == fitted and verdict.grade is not Grade.UNFIT:
                yield CoverEdge(asked.position.pk, item, Grade.DROP_IN, 0)
            elif verdict.grade in (Grade.DROP_IN, Grade.WITH_WORK) and not asked.duty.lifting:
                work = verdict.work_minutes, verdict.work_basis or ""
                yield CoverEdge(asked.position.pk, item, verdict.grade, *work)


def of_every_lack(
    asked: PositionRequirement, fitted: int | None, judges: Judges
) -> Iterator[tuple[int, int, str, bool]]:
    """What is missing of every sprocket that could engage."""
    span = tooth_range(asked.required, asked.duty.ratio_tolerance_percent)
    for item, offered in judges.sprockets.items():
        if item != fitted and could_engage(asked.required, offered, span, judges.practice):
            names, is_alone = blocking_attributes(
                asked.required, offered, duty=asked.duty, practice=judges.practice
            )
            yield from ((asked.position.pk, item, name, is_alone) for name in names)


def test_the_cover_is_that_of_every_pair() -> None:
    dice = random.Random(int(os.environ.get("PROOF_SEED", "3")))
    sprockets = {item: some_sprocket(dice) for item in range(1, SPROCKETS + 1)}
    index = SprocketIndex(sprockets, Practice())
    judges = Judges(Practice(), index, sprockets, RuleBook({}), timezone.now())
    found, missing, lacking = [], [], []
    for number in range(POSITIONS):
        asked, fitted = some_position(dice, number, list(sprockets.values())), dice.choice((None, 1, 2, 3))
        judged = CoverInputs(asked.required, asked.duty, fitted, judges, asked.position).judged()
        own = judged.edges
        assert set(own) == set(of_every_pair(asked, fitted, judges)), asked
        assert len(own) == len(set(own))
        found += own
        missing += [(number, row.item_id, row.attribute, row.is_alone) for row in judged.missing]
        lacking += of_every_lack(asked, fitted, judges)
    assert sorted(missing) == sorted(lacking)
    assert {is_alone for *_, is_alone in missing} == {True, False}
    assert {edge.grade for edge in found} == {Grade.DROP_IN, Grade.WITH_WORK}


@pytest.mark.parametrize("first", FIRST, ids=["rim", "rating", "material", "load", "hub", "mounting"])
def test_the_first_checks_read_nothing_but_what_they_declare(first: FirstChecks) -> None:
    """Two that are alike in it would be taken for one."""
    read: set[str] = set()

    def recording(value: Any) -> Any:
        names = {one.name for one in fields(value)}

        class Recording(type(value)):  # type: ignore[misc]
            def __getattribute__(self, name: str) -> Any:
                if name in names:
                    read.add(f"{type(value).__name__}.{name}")
                return super().__getattribute__(name)

        found = Recording(**{name: getattr(value, name) for name in names})
        read.clear()
        return found

    dice, every = random.Random(8), set[str]()
    for number in range(400):
        asked = some_position(dice, number, [some_sprocket(dice)])
        part = PlacedPart(
            required=recording(asked.required),
            duty=recording(asked.duty),
            offered=recording(some_sprocket(dice)),
            practice=Practice(),
        )
        read.clear()
        for check in first.checks:
            check(part)
        every |= read
    declared = {f"Requirement.{name}" for name in first.required}
    declared |= {f"Sprocket.{name}" for name in first.offered} | {f"Duty.{name}" for name in first.duty}
    assert every <= declared
    assert len(every) > len(declared) / 2, "too little was read to show anything"


def test_a_digest_changes_with_any_attribute_nearby_and_with_none_elsewhere() -> None:
    sprockets = {1: Sprocket(chain=CHAINS[0], teeth=19), 2: Sprocket(chain=CHAINS[3], teeth=19)}
    required = Requirement(chain=CHAINS[0], teeth=19)

    def digest(**changed: Sprocket) -> str:
        index = SprocketIndex(sprockets | {int(k[1:]): v for k, v in changed.items()}, Practice())
        return index.digest_near(required, tooth_range(required))

    assert digest() == digest(i2=replace(sprockets[2], mass_kg=2.0))
    assert digest() != digest(i1=replace(sprockets[1], mass_kg=2.0))
    assert digest() != digest(i3=Sprocket(chain=CHAINS[0], teeth=19))
    assert digest() != digest(i3=Sprocket(teeth=None))

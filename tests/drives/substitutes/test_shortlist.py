"""What the database ranks and leaves out agrees with the core: a bound is never better than it says, and no best is missed.

Random parts and positions around a few pitches, half an inch among them, where several chains look alike. `PROOF=long` judges
10,000 pairs and more.
"""

import os
import random
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from drives.models import Position
from drives.place.verdict import judge_for_place
from drives.substitutes.offers import RankedOffers, Wanted, substitutes_for_position
from drives.substitutes.position_requirement import position_requirement, positions_with_requirements
from inventory.catalogue import shortlist
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.catalogue.shortlist import NotJudged, Shortlist, tooth_range
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Requirement
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.models import Item, PartKind, Specification
from tests.factories import (
    DriveFactory,
    ItemFactory,
    PositionFactory,
    SpecificationFactory,
    SprocketFactory,
    StockLevelFactory,
    StoreroomFactory,
)

pytestmark = pytest.mark.django_db

LONG = os.environ.get("PROOF") == "long"
PARTS, REQUIREMENTS = (200, 60) if LONG else (40, 12)
CHAINS = ("08B", "08A", "085", "12A", "12B", "212B", "60H")
BUSHES = ("1210", "1610", "1615", "2012", "2517")
BORES = tuple(map(Decimal, ("19.05", "20", "24", "25", "25.4", "28", "30", "38", "38.1", "40")))


def some_part(dice: random.Random) -> Specification:
    """A sprocket as catalogues have them: mostly known, here and there a hole."""

    def maybe(value: Any, chance: float = 0.9) -> Any:
        return value if dice.random() < chance else None

    kind = dice.choice(("finished", "plain", "tapered", "split", "hex", "bearing", ""))
    bore = dice.choice(BORES)
    part = SpecificationFactory.build(
        kind=PartKind.SPROCKET,
        chain_designation=maybe(dice.choice(CHAINS), 0.97) or "",
        teeth=maybe(dice.choice((17, 19, 19, 19, 20, 38)), 0.95),
        strands=maybe(dice.choice((1, 1, 1, 2, 3)), 0.95),
        hub_style=maybe(dice.choice(("A", "B", "B", "C", "D", "split")), 0.9) or "",
        bore_type=kind,
        bore_mm=maybe(bore) if kind not in ("tapered", "hex") else None,
        max_bore_mm=maybe(42) if kind in ("finished", "plain") else None,
        keyway_width_mm=maybe(8, 0.7) if kind == "finished" else None,
        bush_size=maybe(dice.choice(BUSHES)) or "" if kind == "tapered" else "",
        hex_across_flats_mm=maybe(bore) if kind == "hex" else None,
        hub_diameter_mm=maybe(dice.choice((45, 60, 75, 90)), 0.8),
        length_through_bore_mm=maybe(dice.choice((28, 35, 45)), 0.8),
        material=maybe(dice.choice(("carbon_steel", "stainless_steel", "cast_iron")), 0.7) or "",
        single_cut=maybe(dice.choice((True, False)), 0.7),
    )
    part.full_clean(exclude=["id"])
    part.save()
    return part


def some_requirements(dice: random.Random) -> list[Requirement]:
    """Half of them positions with a shaft, half of them other parts."""
    tags = [
        PositionFactory(
            drive=DriveFactory(
                chain_designation=dice.choice(CHAINS),
                pitch_mm=None,
                roller_diameter_mm=None,
                inner_width_mm=None,
                transverse_pitch_mm=None,
                strands=dice.choice((1, 1, 2)),
            ),
            teeth=19,
            shaft_kind=dice.choice(("keyed", "keyed", "plain", "hex", "pin", "")),
            shaft_diameter_mm=dice.choice(BORES),
            key_width_mm=8,
            bush_size=dice.choice(("", "", *BUSHES)),
        ).tag
        for _ in range(REQUIREMENTS // 2)
    ]
    for drive in Position.objects.filter(tag__in=tags):
        drive.drive.full_clean()
        drive.drive.save()
    places = [position_requirement(one) for one in positions_with_requirements().filter(tag__in=tags)]
    parts = Specification.objects.exclude(chain_designation="").order_by("?")[: REQUIREMENTS // 2]
    return [place.required for place in places] + [requirement_of(attributes_of(part)) for part in parts]


def test_no_item_is_better_than_its_bound() -> None:
    dice = random.Random(int(os.environ.get("PROOF_SEED", "4")))
    for _ in range(PARTS):
        ItemFactory(specification=some_part(dice))
    practice, pairs, bounded = current_practice(), 0, 0
    for required in some_requirements(dice):
        listing = Shortlist(required, tooth_range(required), practice)
        for item in listing.in_order():
            offered = attributes_of(item.specification)
            for verdict in (
                judge(required, offered, practice=practice),
                judge_for_place(required, offered, practice=practice),
            ):
                assert GRADE_RANK[verdict.grade] >= item.best_rank, (required, offered)
            pairs += 1
            bounded += item.best_rank > 0
    assert pairs > REQUIREMENTS * PARTS // 10
    assert bounded > pairs // 5, "a bound that is always the best grade ranks nothing"


def test_what_is_shortlisted_is_all_that_could_engage() -> None:
    dice = random.Random(5)
    items = [ItemFactory(specification=some_part(dice)) for _ in range(PARTS)]
    practice = current_practice()
    for required in some_requirements(dice):
        teeth = tooth_range(required)
        listed = {item.pk for item in Shortlist(required, teeth, practice).in_order()}
        for item in items:
            offered = attributes_of(item.specification)
            is_unknown = offered.chain is None and offered.teeth is None
            if required.chain is None or teeth is None or not is_unknown:
                assert (item.pk in listed) is shortlist.could_engage(required, offered, teeth, practice)
            else:
                assert item.pk not in listed


def many_parts(position: Position, count: int) -> None:
    room = position.drive.equipment.area.plant.storeroom
    dice = random.Random(6)
    for number in range(count):
        part = SprocketFactory(
            teeth=position.teeth,
            bore_mm=dice.choice((20, 25, 25, 38)),
            max_bore_mm=42,
            strands=dice.choice((1, 1, 2)),
            hub_diameter_mm=dice.choice((45, 60, 75)),
        )
        item = ItemFactory(specification=part, unit_cost=dice.choice((None, 20, 30)))
        if number % 3 == 0:
            StockLevelFactory(item=item, storeroom=room if number % 2 else StoreroomFactory(), on_hand=1)


def answer(position: Position, wanted: Wanted) -> RankedOffers:
    record = positions_with_requirements().get(pk=position.pk)
    return substitutes_for_position(record, here_id=None, at=timezone.now(), wanted=wanted)


def numbers(found: RankedOffers, count: int) -> list[str]:
    return [offer.candidate.item.stock_number for offer in found.offers[:count]]


def test_the_best_are_those_of_a_full_judgement(monkeypatch: pytest.MonkeyPatch) -> None:
    position = PositionFactory(drive__equipment__area__plant__storeroom=StoreroomFactory())
    many_parts(position, 90)
    monkeypatch.setattr(shortlist, "BATCH", 10_000)
    whole = answer(position, Wanted(5))
    assert whole.left_out == NotJudged()
    monkeypatch.setattr(shortlist, "BATCH", 4)
    short = answer(position, Wanted(5))
    assert numbers(short, 5) == numbers(whole, 5)
    assert len(short.offers) < len(whole.offers)
    assert len(short.offers) + short.left_out.total == len(whole.offers)
    assert short.best_by_ready
    assert whole.best_by_ready
    assert short.best_by_ready.ready.minutes == whole.best_by_ready.ready.minutes


def test_a_named_item_is_judged_however_far_behind_it_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    position = PositionFactory(drive__equipment__area__plant__storeroom=StoreroomFactory())
    many_parts(position, 40)
    monkeypatch.setattr(shortlist, "BATCH", 4)
    everything = Shortlist(
        position_requirement(positions_with_requirements().get(pk=position.pk)).required,
        None,
        current_practice(),
    )
    last = list(everything.in_order())[-1].stock_number
    found = answer(position, Wanted(2, also=(last,)))
    assert last in numbers(found, len(found.offers))


def test_parts_of_which_nothing_is_known_are_counted_and_not_judged() -> None:
    position = PositionFactory()
    known = ItemFactory(specification=SprocketFactory(teeth=position.teeth))
    for _ in range(3):
        ItemFactory(specification=SpecificationFactory(kind=PartKind.SPROCKET, material="carbon_steel"))
    found = answer(position, Wanted(20))
    assert numbers(found, 20) == [known.stock_number]
    assert found.left_out == NotJudged(unknown_parts=3)
    assert Item.objects.count() == 4
    assert found.offers[0].candidate.verdict.grade in Grade

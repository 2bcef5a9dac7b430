"""What the database ranks and leaves out agrees with the core: a bound is never better than it says, and no best is missed.

Random parts and positions around a few pitches, half an inch among them, where several chains look alike. `PROOF=long` judges
10,000 pairs and more.
"""

import os
import random
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from functools import partial
from typing import Any

import pytest
from django.utils import timezone

from drives.models import Position
from drives.place.duty import Duty
from drives.place.verdict import judge_for_place
from drives.substitutes import offers
from drives.substitutes.offers import RankedOffers, Wanted, substitutes_for_item, substitutes_for_position
from drives.substitutes.position_requirement import position_requirement, positions_with_requirements
from inventory.catalogue import ranked_shortlist
from inventory.catalogue.candidates import Candidate, grade_order
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.catalogue.ranked_shortlist import NotJudged, Shortlist, ShortlistedItem
from inventory.catalogue.shortlist import could_engage, tooth_range
from inventory.catalogue.stock_on_hand import load_stock_of_items
from inventory.interchange.bushing import BushAtHand, BushesAtHand
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Requirement
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Grade, PositionRole
from inventory.models import Item, PartKind, Specification
from tests.examples import IS_LONG
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

PARTS, REQUIREMENTS = (200, 60) if IS_LONG else (30, 8)
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


ALL = 10_000


def some_duty(dice: random.Random) -> Duty:
    def maybe(value: Any, chance: float = 0.6) -> Any:
        return value if dice.random() < chance else None

    return Duty(
        power_kw=maybe(dice.choice((0.5, 2.2, 15, 90))),
        speed_rpm=maybe(dice.choice((20, 120, 900))),
        service_factor=maybe(dice.choice((1, 1.5))),
        mating_teeth=maybe(dice.choice((19, 38, 57))),
        centre_distance_mm=maybe(800.0),
        links=maybe(110),
        centre_adjustment_mm=maybe((-15.0, 15.0)),
        ratio_tolerance_percent=maybe(dice.choice((0, 2, 6))),
        elongation_percent=maybe(dice.choice((0.5, 2.5)), 0.3),
        lifting=maybe(dice.random() < 0.1),
    )


def some_bushes(dice: random.Random) -> BushesAtHand:
    return BushesAtHand(
        tuple(
            BushAtHand(
                size=size, bore_mm=float(dice.choice(BORES)), keyway_width_mm=dice.choice((None, 8, 10))
            )
            for size in BUSHES
            for _ in range(dice.randrange(3))
        )
    )


def some_questions(dice: random.Random) -> Iterator[tuple[Shortlist, Any]]:
    """A shortlist for each requirement: part for part, and at places of a drive with or without bushes on the shelf."""
    practice = current_practice()
    for required in some_requirements(dice):
        judge_part = partial(judge, required, practice=practice)
        yield (
            Shortlist(required=required, teeth=tooth_range(required), practice=practice, judge=judge_part),
            judge_part,
        )
        for bushes in (None, some_bushes(dice)):
            duty = some_duty(dice)
            place = replace(required, role=dice.choice(tuple(PositionRole)))
            judge_here = partial(judge_for_place, place, duty=duty, practice=practice, bushes=bushes)
            teeth = tooth_range(place, duty.ratio_tolerance_percent)
            listing = Shortlist(
                required=place, teeth=teeth, practice=practice, judge=judge_here, bushes=bushes
            )
            yield listing, judge_here


def test_no_item_is_better_than_its_bound() -> None:
    dice = random.Random(int(os.environ.get("PROOF_SEED", "4")))
    for _ in range(PARTS):
        item = ItemFactory(specification=some_part(dice), unit_cost=dice.choice((None, 20, 30)))
        if dice.random() < 0.3:
            StockLevelFactory(item=item, on_hand=1)
    pairs = bounded = exact = 0
    for listing, judge_one in some_questions(dice):
        order = grade_order(None)
        rows = listing.read(ALL).placed
        stock = load_stock_of_items([row.item.pk for row in rows])
        for row in {row.item.pk: row for row in rows if row.is_placed}.values():
            offered = attributes_of(row.item.specification)
            verdict = judge_one(offered)
            found = order(Candidate(row.item, offered, verdict, stock.of_item(row.item.pk)))
            assert row.bound <= found, (listing.required, offered, [one.code for one in verdict.deciding])
            pairs += 1
            bounded += row.best_rank > 0
            exact += row.bound == found
    assert pairs > REQUIREMENTS * PARTS // 4
    assert bounded > pairs // 2, "a bound that is always the best grade ranks nothing"
    assert exact > pairs // 4, "a bound that is never the verdict leaves everything to be judged"


def placed(rows: list[ShortlistedItem]) -> set[int]:
    return {row.item.pk for row in rows if row.is_placed}


def test_what_is_shortlisted_is_all_that_could_engage() -> None:
    dice = random.Random(5)
    items = [ItemFactory(specification=some_part(dice)) for _ in range(PARTS)]
    for listing, _ in some_questions(dice):
        required, teeth = listing.required, listing.teeth
        found = listing.read(ALL)
        listed = placed(found.placed)
        assert len(listed) == sum(found.items_of_class.values())
        for item in items:
            offered = attributes_of(item.specification)
            is_unknown = offered.chain is None and offered.teeth is None
            if required.chain is None or teeth is None or not is_unknown:
                assert (item.pk in listed) is could_engage(required, offered, teeth, listing.practice)
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
    whole = answer(position, Wanted(10_000))
    assert whole.left_out == NotJudged()
    monkeypatch.setattr(offers, "SPARE", 0)
    monkeypatch.setattr(ranked_shortlist, "SOONEST", 2)
    short = answer(position, Wanted(5))
    assert numbers(short, 5) == numbers(whole, 5)
    assert len(short.offers) < len(whole.offers)
    assert len(short.offers) + short.left_out.total == len(whole.offers)
    free = {one.candidate.item.pk for one in whole.offers if one.candidate.available and one.is_usable}
    judged = {one.candidate.item.pk for one in short.offers}
    assert short.left_out.lower_ranked_available == len(free - judged) > 0
    assert short.best_by_ready
    assert whole.best_by_ready
    assert short.best_by_ready.ready.minutes == whole.best_by_ready.ready.minutes


def test_of_what_needs_review_the_nearest_to_what_is_asked_for_comes_first() -> None:
    room = StoreroomFactory()
    position = PositionFactory(drive__equipment__area__plant__storeroom=room)
    unknown_material = SprocketFactory(material="")
    unknown_too = {"material": "", "hub_diameter_mm": None}
    to_bore = {"bore_type": "plain", "bore_mm": 12, "keyway_width_mm": None, "max_bore_mm": None}
    for number, cost, part in (
        ("SAME", 90, unknown_material),
        ("HUB", 50, SprocketFactory(**unknown_too)),
        ("BORE", 5, SprocketFactory(**to_bore, hub_diameter_mm=None)),
        ("BORE-MORE", 4, SprocketFactory(**to_bore, **unknown_too)),
    ):
        item = ItemFactory(stock_number=number, specification=part, unit_cost=cost)
        if number != "SAME":
            StockLevelFactory(item=item, storeroom=room, on_hand=1)
    found = answer(position, Wanted(10))
    assert {offer.candidate.verdict.grade for offer in found.offers} == {Grade.NEEDS_REVIEW}
    assert numbers(found, 10) == ["SAME", "HUB", "BORE", "BORE-MORE"]


def test_what_could_be_among_the_best_and_was_not_judged_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    position = PositionFactory(
        drive__equipment__area__plant__storeroom=StoreroomFactory(), drive__chain_designation="08B"
    )
    # A tooth width is not part of the bound: all of these look as good as the last one and are not.
    parts = [
        SprocketFactory(teeth=position.teeth, bore_mm=25, tooth_width_mm=width) for width in (3, 3, 3, 7)
    ]
    items = [ItemFactory(specification=part, unit_cost=cost) for cost, part in enumerate(parts)]
    monkeypatch.setattr(ranked_shortlist, "SOONEST", 0)
    monkeypatch.setattr(offers, "SPARE", 0)
    whole = answer(position, Wanted(1))
    assert (numbers(whole, 1), whole.left_out.may_rank_higher) == ([items[-1].stock_number], 0)
    monkeypatch.setattr(ranked_shortlist, "BATCHES", 2)
    short = answer(position, Wanted(1))
    assert len(short.offers) == 2
    assert short.left_out.may_rank_higher == short.left_out.total == 2
    only_fits = answer(position, Wanted(1, worst_grade=Grade.WITH_WORK))
    assert only_fits.left_out.may_rank_higher == 2


def test_what_the_filter_refuses_in_any_case_is_not_judged(django_assert_num_queries: Any) -> None:
    position = PositionFactory(drive__equipment__area__plant__storeroom=StoreroomFactory())
    many_parts(position, 90)
    record = positions_with_requirements().get(pk=position.pk)
    with django_assert_num_queries(3):
        found = substitutes_for_position(
            record, here_id=None, at=timezone.now(), wanted=Wanted(50, worst_grade=Grade.DROP_IN)
        )
    assert found.left_out.may_rank_higher == 0
    assert len(found.offers) + found.left_out.total == 90


def test_a_named_item_is_judged_however_far_behind_it_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    position = PositionFactory(drive__equipment__area__plant__storeroom=StoreroomFactory())
    many_parts(position, 40)
    monkeypatch.setattr(offers, "SPARE", 0)
    last = numbers(answer(position, Wanted(1_000)), 1_000)[-1]
    found = answer(position, Wanted(2, also=(last,)))
    assert last in numbers(found, len(found.offers))
    assert len(found.offers) < 40


def merge_into(item: Item, into: Item) -> None:
    """As a merge leaves it."""
    Item.objects.filter(pk=item.pk).update(merged_into=into, lifecycle="blocked")


def test_a_merged_number_is_neither_offered_nor_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    position = PositionFactory(drive__equipment__area__plant__storeroom=StoreroomFactory())
    many_parts(position, 30)
    unknown = [
        ItemFactory(specification=SpecificationFactory(kind=PartKind.SPROCKET, material="carbon_steel"))
        for _ in range(2)
    ]
    whole = numbers(answer(position, Wanted(ALL)), ALL)
    first = Item.objects.get(stock_number=whole[0])
    # One more number of a part that stays, and the only number of a part.
    twin = ItemFactory(specification=first.specification, stock_number=f"{first}-OLD", unit_cost=1)
    merge_into(twin, first)
    merge_into(Item.objects.get(stock_number=whole[-1]), first)
    merge_into(unknown[0], unknown[1])
    found = answer(position, Wanted(ALL, also=(twin.stock_number, whole[-1])))
    assert numbers(found, ALL) == whole[:-1]
    assert found.left_out == NotJudged(unknown_parts=1)
    monkeypatch.setattr(offers, "SPARE", 0)
    short = answer(position, Wanted(2))
    assert len(short.offers) + short.left_out.total == len(whole)


def test_one_of_several_numbers_and_an_old_one_have_the_others_as_substitutes() -> None:
    part = SprocketFactory()
    old, new, other = (ItemFactory(specification=part) for _ in range(3))
    merge_into(old, new)
    for item, substitutes in ((new, [other]), (old, [new, other]), (other, [new])):
        found = substitutes_for_item(item, here_id=None, at=timezone.now(), wanted=Wanted(ALL))
        assert {offer.candidate.item for offer in found.offers} == set(substitutes)
        assert found.left_out == NotJudged()


def test_of_each_count_a_merged_number_is_left_out() -> None:
    """Its shelf is closed and empty: what lies on it here is to show that the number alone decides."""
    new, old = (
        ItemFactory(specification=SprocketFactory(chain_designation="08B", teeth=19)) for _ in range(2)
    )
    for item in (new, old):
        StockLevelFactory(item=item, on_hand=1)
    merge_into(old, new)
    required, practice = requirement_of(attributes_of(new.specification)), current_practice()
    listing = Shortlist(
        required=required, teeth=None, practice=practice, judge=partial(judge, required, practice=practice)
    )
    assert listing.best_of_each_count([19], most=5) == ([new], set())


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


def test_of_parts_of_which_nothing_is_known_no_more_than_a_few_are_counted() -> None:
    position = PositionFactory()
    most = ranked_shortlist.MOST_UNKNOWN_COUNTED
    parts = [SpecificationFactory(kind=PartKind.SPROCKET, material="carbon_steel") for _ in range(most + 1)]
    for part in parts[:most]:
        ItemFactory(specification=part)
    assert answer(position, Wanted(20)).left_out == NotJudged(unknown_parts=most)
    ItemFactory(specification=parts[most])
    assert answer(position, Wanted(20)).left_out == NotJudged(unknown_parts=most, more_unknown_parts=True)

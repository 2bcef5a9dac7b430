"""Bushes at hand: each kind once, however many lie about, as reading all of them would give it."""

import random
from decimal import Decimal

import pytest

from inventory.catalogue.core_values import attributes_of, word_or_none
from inventory.catalogue.stock_on_hand import bushes_of, bushes_question
from inventory.interchange.bushing import BushAtHand
from inventory.interchange.requirement import Requirement, Shaft
from inventory.interchange.thresholds import Thresholds
from inventory.interchange.vocabulary import KeyStandard, ShaftKind
from inventory.models import Item, StockLevel
from inventory.models.access_scope import AccessScope, scoped_to
from inventory.plumbing.joint_statement import Parameters, answers
from tests.factories import BushFactory, ItemFactory, StockLevelFactory, StoreroomFactory

pytestmark = pytest.mark.django_db

LIMITS = Thresholds()
SHAFT = Requirement(shaft=Shaft(kind=ShaftKind.KEYED, diameter_mm=25.0))


def bushes_at_hand(required: Requirement = SHAFT) -> list[BushAtHand]:
    put = Parameters()
    rows = answers(Item, put, {"bushes": bushes_question(required, put)})["bushes"]
    return list(bushes_of(rows, required, LIMITS).bushes)


def some_bush(dice: random.Random) -> None:
    part = BushFactory(
        bush_size=dice.choice(("1610", "1615", "sds", "SDS")),
        bore_mm=dice.choice((None, 24, Decimal("25"), Decimal("25.004"), Decimal("25.4"), 26)),
        keyway_width_mm=dice.choice((None, 6, 8, Decimal("7.9375"))),
        keyway_depth_mm=dice.choice((None, None, Decimal("3.3"))),
        key_standard=dice.choice(("", "ISO 773")),
    )
    for _ in range(dice.randrange(3)):
        StockLevelFactory(
            item=ItemFactory(specification=part),
            on_hand=2,
            reserved=dice.choice((0, 0, 2)),
            condition=dice.choice(("new", "on_hold")),
        )


def kind_of(level: StockLevel) -> BushAtHand:
    part = level.item.specification
    assert part is not None
    bush = attributes_of(part)
    assert bush.bore_mm is not None
    return BushAtHand(
        size=part.bush_size.upper(),
        bore_mm=bush.bore_mm,
        keyway_width_mm=bush.keyway_width_mm,
        keyway_depth_mm=bush.keyway_depth_mm,
        key_standard=word_or_none(KeyStandard, part.key_standard),
    )


def test_each_kind_that_lies_on_a_shelf_is_found_once() -> None:
    dice = random.Random(3)
    for _ in range(150):
        some_bush(dice)
    free = StockLevel.objects.filter(condition="new", reserved=0, item__specification__bore_mm__isnull=False)
    every = {kind_of(level) for level in free.select_related("item__specification")}
    expected = {bush for bush in every if LIMITS.is_same_size(bush.bore_mm, 25.0)}
    found = bushes_at_hand()
    assert len(found) == len(set(found)) > 12
    assert set(found) == expected


def test_only_storerooms_that_may_be_seen_count() -> None:
    own, other = StoreroomFactory(code="OWN"), StoreroomFactory(code="OTHER")
    for room, size in ((own, "1610"), (other, "2012")):
        StockLevelFactory(
            item=ItemFactory(specification=BushFactory(bush_size=size)), storeroom=room, on_hand=1
        )
    with scoped_to(lambda: AccessScope(storerooms=frozenset({own.pk}))):
        assert [bush.size for bush in bushes_at_hand()] == ["1610"]


def test_a_shaft_without_a_size_has_none() -> None:
    StockLevelFactory(item=ItemFactory(specification=BushFactory()), on_hand=1)
    assert bushes_at_hand(Requirement(shaft=Shaft(kind=ShaftKind.KEYED))) == []

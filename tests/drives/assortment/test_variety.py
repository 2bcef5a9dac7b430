"""The choice of items on small plants counted by hand, and what must hold in every plant."""

from datetime import timedelta
from decimal import Decimal

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from drives.assortment.holdings import load_holdings
from drives.assortment.orphans import orphans_and_holes
from drives.assortment.variety import Choice, variety
from drives.models import Cover
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.models import StockPolicy
from inventory.planning.terms import load_terms
from tests.factories import (
    BushedSprocketFactory,
    DriveFactory,
    InstallationFactory,
    ItemFactory,
    PositionFactory,
    StoreroomFactory,
    stock,
)

pytestmark = pytest.mark.django_db


def item(cost, *, pieces=1, **values):
    found = ItemFactory(unit_cost=cost, **{"currency": "EUR", "lead_time_days": 30, **values})
    if pieces:
        stock(found, StoreroomFactory(), pieces)
    return found


def general(cost, **values):
    return item(cost, specification=BushedSprocketFactory(), **values)


def position(*served, **drive):
    """Served by (item, grade, minutes); the first is fitted."""
    found = PositionFactory(drive=DriveFactory(**drive))
    for one, grade, minutes in served:
        Cover.objects.create(position=found, item=one, grade=grade, work_minutes=minutes)
    InstallationFactory(position=found, item=served[0][0])
    return found


def own(one):
    return one, "drop_in", 0


def asked(**limits):
    return variety(timezone.now(), timezone.localdate(), **{"worst_grade": "with_work", **limits})


def three_bores_and_one_bushed(cost=60, **values):
    bored = [item(50) for _ in range(3)]
    bushed = general(cost, **values)
    places = [position(own(one), (bushed, "with_work", 20 + n)) for n, one in enumerate(bored)]
    return bored, bushed, places


def test_one_bushed_item_instead_of_three_bored_ones():
    """By hand: today 3 x 50 and the bushed one at 60 that lies there too, afterwards one of 60; a year costs a fifth of 150."""
    bored, bushed, places = three_bores_and_one_bushed()
    found = asked()
    (group,) = found.groups
    assert [one.stock_number for one in group.keep] == [bushed.stock_number]
    assert {one.stock_number for one in group.leave} == {one.stock_number for one in bored}
    assert (group.positions, group.worst_grade, group.most_minutes) == (3, "with_work", 22)
    assert set(group.tags) == {one.tag for one in places}
    assert (group.value_today, group.value_after, group.saving_per_year) == (210, 60, Decimal("30.00"))
    assert (found.cost_today, found.cost, found.lower_bound, found.gap) == (30.0, 12.0, 12.0, 0.0)


def test_an_item_that_nobody_holds_counts_with_its_whole_cost():
    bushed = three_bores_and_one_bushed(pieces=0)[1]
    (group,) = asked().groups
    assert [(one.stock_number, one.is_new, one.level_today) for one in group.keep] == [
        (bushed.stock_number, True, 0)
    ]
    assert (group.value_today, group.value_after) == (150, 60)


def test_an_item_that_costs_more_than_all_it_replaces_replaces_none():
    three_bores_and_one_bushed(cost=151)
    assert asked().groups == ()


@pytest.mark.parametrize("limits", [{"worst_grade": "drop_in"}, {"most_minutes": 19}])
def test_beyond_the_limits_nothing_moves(limits):
    three_bores_and_one_bushed()
    found = asked(**limits)
    assert (found.groups, found.leave, found.positions) == ((), 0, 3)


def test_within_the_minutes_only_what_can_be_done_in_them_moves():
    bored, *_ = three_bores_and_one_bushed()
    (group,) = asked(most_minutes=21).groups
    assert {one.stock_number for one in group.leave} == {one.stock_number for one in bored[:2]}


@pytest.mark.parametrize(
    "values", [{"holding_reason": "insurance"}, {"holding_reason": "project"}, {"unit_cost": None}]
)
def test_what_is_held_for_a_reason_or_has_no_price_stays_and_takes_nothing_over(values):
    special, cheap = ItemFactory(**{"unit_cost": 50, "currency": "EUR", **values}), general(5)
    stock(special, StoreroomFactory(), 1)
    position(own(special), (cheap, "with_work", 10))
    position(own(item(70)), (special, "with_work", 10))
    found = asked()
    assert (found.groups, found.kept_anyway) == ((), 1)


def test_what_is_run_down_or_not_in_use_asks_for_nothing():
    bored, _, places = three_bores_and_one_bushed()
    bored[0].lifecycle = "run_down"
    bored[0].save()
    places[1].in_use_until = timezone.localdate() - timedelta(days=1)
    places[1].save()
    assert asked().positions == 2
    assert {edge.item_id for edge in chosen().today.values()}.isdisjoint({bored[0].pk, bored[1].pk})


def test_a_policy_holds_an_item_as_stock_does():
    first, second = item(50, pieces=0), item(40)
    position(own(first), own(second))
    assert asked().weighed == 1
    StockPolicy.objects.create(item=first, storeroom=StoreroomFactory(), reorder_point=0, order_up_to=1)
    (group,) = asked().groups
    assert [one.stock_number for one in group.leave] == [first.stock_number]


def test_a_lifting_drive_keeps_its_own_item():
    """Its cover holds the fitted item alone, so every cover of all positions holds it."""
    bored, *_ = three_bores_and_one_bushed()
    hoist = position(own(bored[0]), lifting=True)
    choice = chosen()
    assert choice.after[hoist.pk].item_id == bored[0].pk
    assert bored[0].pk not in choice.leaving


def chosen(worst_grade="with_work", most_minutes=None):
    return Choice(load_holdings(timezone.localdate()), load_terms(), worst_grade, most_minutes)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("worst_grade", ["drop_in", "with_work"])
def test_every_position_served_today_stays_served_within_the_limit(seed, worst_grade):
    draw = np.random.default_rng(seed)
    items = [
        (general if n % 3 == 0 else item)(int(draw.integers(10, 90)), pieces=int(n % 4 > 0))
        for n in range(10)
    ]
    for _ in range(15):
        some = draw.choice(len(items), size=int(draw.integers(1, 5)), replace=False)
        grades = draw.choice(["drop_in", "with_work"], size=len(some))
        position(
            *(
                (items[n], str(grade), int(draw.integers(0, 60)))
                for n, grade in zip(some, grades, strict=True)
            )
        )
    choice = chosen(worst_grade, 45)
    kept = (choice.weighed | choice.kept_anyway | choice.found.chosen) - choice.leaving
    assert choice.after.keys() == choice.today.keys()
    for place, after in choice.after.items():
        assert after.item_id in kept
        moved = after != choice.today[place]
        assert not moved or GRADE_RANK[Grade(after.grade)] <= GRADE_RANK[Grade(worst_grade)]
        assert not moved or after.work_minutes <= 45
    assert (
        choice.found.lower_bound
        <= choice.found.cost
        <= sum(choice.costs[one] for one in choice.weighed) + 1e-9
    )


def test_the_number_of_queries_does_not_grow_with_the_plant():
    def queries():
        with CaptureQueriesContext(connection) as seen:
            asked()
            orphans_and_holes(timezone.localdate(), currency="EUR")
        return len(seen)

    three_bores_and_one_bushed()
    few = queries()
    for _ in range(4):
        three_bores_and_one_bushed()
    assert queries() == few

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.facts import fact
from inventory.models import Item, StockingTerms, StockLevel, Storeroom, TransferTime
from inventory.planning.budget_frontier import MOST_POINTS, Frontier, frontier
from inventory.planning.policy_inputs import Downtime, DriveShare, ItemDetails, NearStoreroom, Need
from inventory.planning.terms import Terms
from inventory.stocking.lead_time_demand import poisson
from inventory.stocking.least_cost import StockingCost, spare_value
from inventory.stores import ledger
from tests import factories as make
from tests.inventory.planning.cases import LeadTimesByItem, advice, downtime, lead_time, reason
from tests.inventory.planning.worlds import AS_OF, need_of

pytestmark = pytest.mark.django_db
MEAN = 4.0 * 45 / 365


def found_for(*needs: Need, budget: int = 1000, **more: Any) -> Frontier:
    times = {one.item_id: lead_time() for one in needs}
    values: dict[str, Any] = {"lead_times": LeadTimesByItem(times), "emergencies": None}
    return frontier(needs, budget=Decimal(budget), today=AS_OF.date(), **{**values, **more})


@pytest.fixture
def sprocket(db: None) -> Item:
    return make.ItemFactory(stock_number="SPR-1", unit_cost=Decimal("40"))


def test_a_missing_piece_costs_the_hours_to_an_emergency_delivery(sprocket: Item) -> None:
    StockingTerms.objects.create(id=1, hours_to_expedite=24)
    found = found_for(need_of(sprocket, downtime=downtime("420")))
    assert found.today.downtime_hours_per_year == pytest.approx(4 * 24)
    assert found.today.downtime_cost_per_year == Decimal("40320.00")
    first = found.buys[0]
    assert (first.stock_after, first.pieces, first.spend) == (1, 1, 40)
    assert first.downtime_hours_per_year == pytest.approx(96 * MEAN / (1 + MEAN))
    assert "short_chain_not_counted" not in [one.code for one in found.method]
    assert found.method[-1] == fact("shortage_waits_for_emergency_order", parts=1)


def test_a_spare_is_worth_to_the_budget_what_it_is_worth_to_its_recommendation(sprocket: Item) -> None:
    StockingTerms.objects.create(id=1, hours_to_expedite=24)
    found = found_for(need_of(sprocket, downtime=downtime("420")), budget=200)
    cost = StockingCost(holding_per_piece=0.2 * 40, order=0, missing=420 * 24)
    spare = spare_value(4.0, 45 / 365, cost)
    kept = [buy.stock_after * 0.2 * 40 + float(buy.downtime_cost_per_year) for buy in found.buys]
    assert float(found.today.downtime_cost_per_year) == pytest.approx(spare.cost_of_none)
    assert min(kept) == pytest.approx(spare.cost_of_some, abs=0.01)


def test_the_first_spare_has_the_break_even_of_its_recommendation(sprocket: Item) -> None:
    StockingTerms.objects.create(id=1, hours_to_expedite=24)
    rare = need_of(sprocket, rate=0.2, positions=2, downtime=downtime("2000"))
    found = found_for(rare, budget=80)
    terms = Terms(hours_to_expedite=24, are_start_values=False)
    item = ItemDetails(stock_number="SPR-1", unit_cost=Decimal("40"))
    assert found.buys[0].break_even == (
        reason(advice(rare, item=item, terms=terms), "spare_pays_from_positions"),
    )
    assert [buy.break_even for buy in found.buys[1:]] == [()]


def test_without_emergencies_it_costs_the_wait_for_the_order(sprocket: Item) -> None:
    found = found_for(need_of(sprocket, downtime=downtime("420")))
    assert found.today.downtime_hours_per_year == pytest.approx(MEAN * 8760)
    assert found.buys[0].downtime_hours_per_year == pytest.approx(poisson(MEAN).expected_above(1) * 8760)
    assert found.method[-1] == fact("shortage_waits_for_ordinary_order", parts=1, hours_per_year=8760.0)


def test_it_begins_at_what_is_there_and_coming(sprocket: Item) -> None:
    twin, room = make.ItemFactory(), make.StoreroomFactory()
    make.stock(sprocket, room, 1)
    make.stock(twin, room, 1)
    found = found_for(need_of(sprocket, room, downtime=downtime(), member_ids=(sprocket.pk, twin.pk)))
    assert (found.buys[0].stock_after, found.today.spend) == (3, 80)


@pytest.fixture
def cabinet(db: None) -> Storeroom:
    """Six minutes from the storeroom, nine back."""
    room, other = make.StoreroomFactory(), make.StoreroomFactory(code="CABINET")
    make.TransferTimeFactory(from_storeroom=other, to_storeroom=room, minutes=6)
    make.TransferTimeFactory(from_storeroom=room, to_storeroom=other, minutes=9)
    return other


def test_storerooms_that_share_the_stock_are_one(sprocket: Item, cabinet: Storeroom) -> None:
    room = make.StoreroomFactory()
    make.stock(sprocket, cabinet, 2)
    near = NearStoreroom(storeroom_id=cabinet.pk, code="CABINET", minutes=9, stops_per_year=1.5)
    here = replace(near, storeroom_id=room.pk, code="MAIN")
    found = found_for(
        need_of(sprocket, room, downtime=downtime(), keeps_for=(near,)),
        need_of(sprocket, cabinet, downtime=downtime(), kept_in=here),
    )
    # Two pieces: what waits for the order, and nine minutes for each of 1.5 jobs that finds a piece.
    law = poisson(MEAN)
    hours = law.expected_above(2) * 8760 + 1.5 * 0.15 * law.chance_within(1)
    assert found.today.downtime_hours_per_year == pytest.approx(hours)
    assert (found.today.spend, found.buys[0].stock_after, found.buys[0].storeroom_id) == (80, 3, room.pk)
    (left,) = found.left_out
    assert left.reason == fact("kept_in_storeroom", storeroom="MAIN", minutes=9)
    assert found.stock_value.weighed == 80


def test_a_piece_six_minutes_away_serves_after_six_minutes(sprocket: Item, cabinet: Storeroom) -> None:
    room = make.StoreroomFactory()
    make.stock(sprocket, cabinet, 1)
    own, other = need_of(sprocket, room, rate=0.5, downtime=downtime()), need_of(sprocket, cabinet, rate=0.1)
    mean, both = 0.5 * 45 / 365, poisson(0.6 * 45 / 365)
    found = found_for(own, other)
    # Of what both wait for together, five sixths; else six minutes for each of the jobs, none of which finds a piece here.
    waiting, fetched = both.expected_above(1) * 8760 * 5 / 6, 0.5 * (1 - both.chance_above(0)) * 0.1
    assert found.today.downtime_hours_per_year == pytest.approx(waiting + fetched)
    assert found.today.downtime_hours_per_year < poisson(mean).expected_above(0) * 8760 / 10
    TransferTime.objects.all().delete()
    assert found_for(own, other).today.downtime_hours_per_year == pytest.approx(mean * 8760)


def test_with_emergency_hours_what_both_lack_waits_for_those(sprocket: Item, cabinet: Storeroom) -> None:
    StockingTerms.objects.create(id=1, hours_to_expedite=24)
    make.stock(sprocket, cabinet, 1)
    own = need_of(sprocket, make.StoreroomFactory(), rate=0.5, downtime=downtime())
    found = found_for(own, need_of(sprocket, cabinet, demand=None))
    away = 0.5 * 45 / 365
    short = away / (1 + away)
    assert found.today.downtime_hours_per_year == pytest.approx(0.5 * (24 * short + 0.1 * (1 - short)))


def test_a_caller_who_does_not_see_the_other_storeroom_has_none_of_its_pieces(
    sprocket: Item, cabinet: Storeroom
) -> None:
    room = make.StoreroomFactory()
    make.stock(sprocket, cabinet, 1)
    near = NearStoreroom(storeroom_id=cabinet.pk, code="CABINET", minutes=9)
    shared, apart = (
        need_of(sprocket, room, downtime=downtime(), keeps_for=(near,)),
        need_of(sprocket, cabinet),
    )
    assert found_for(shared, storerooms={room.pk}).today.spend == 0
    own = need_of(sprocket, room, downtime=downtime())
    assert found_for(own, apart, storerooms={room.pk}).today.downtime_hours_per_year == pytest.approx(
        MEAN * 8760
    )


def test_the_plant_is_held_against_the_best_for_its_money(sprocket: Item) -> None:
    other, room = make.ItemFactory(unit_cost=Decimal("40")), make.StoreroomFactory()
    make.stock(other, room, 3)
    needs = [need_of(sprocket, downtime=downtime("420")), need_of(other, rate=0.1, downtime=downtime("20"))]
    found = found_for(*needs)
    assert found.today.spend == 120
    assert found.best_for_the_same_money.spend == 120
    assert found.best_for_the_same_money.downtime_cost_per_year < found.today.downtime_cost_per_year
    assert found.buys[0].item_id == sprocket.pk
    spends = [point.spend for point in found.curve]
    assert (spends[0], spends == sorted(spends), len(spends) <= MOST_POINTS) == (0, True, True)


def test_pieces_that_nobody_will_need_are_money_too(sprocket: Item) -> None:
    make.stock(sprocket, make.StoreroomFactory(), 500)
    found = found_for(need_of(sprocket, downtime=downtime()))
    assert (found.today.spend, found.buys) == (20_000, ())
    assert found.best_for_the_same_money.spend < found.today.spend


def test_an_unbought_plant_stands_at_the_beginning_of_the_curve(sprocket: Item) -> None:
    found = found_for(need_of(sprocket, downtime=downtime()))
    assert found.today == found.best_for_the_same_money == found.curve[0]


def test_the_budget_is_kept(sprocket: Item) -> None:
    assert [buy.spend for buy in found_for(need_of(sprocket, downtime=downtime()), budget=100).buys] == [
        40,
        80,
    ]
    assert found_for(need_of(sprocket, downtime=downtime()), budget=0).buys == ()


@pytest.mark.parametrize(
    ("item", "more", "code"),
    [
        ({"unit_cost": None}, {}, "price_not_known"),
        ({"unit_cost": Decimal(0)}, {}, "price_not_known"),
        ({"currency": "USD"}, {}, "price_in_other_currency"),
        ({}, {"downtime": None}, "downtime_cost_not_known"),
        ({}, {"downtime": downtime("420", "USD")}, "downtime_cost_not_known"),
        ({"lifecycle": "blocked"}, {}, "item_blocked"),
        ({}, {"demand": None}, "no_unplanned_demand"),
        ({}, {"rate": 0.0}, "no_demand_for_stock"),
    ],
)
def test_what_cannot_be_weighed_is_listed_apart(
    item: dict[str, Any], more: dict[str, Any], code: str
) -> None:
    found = found_for(need_of(make.ItemFactory(**item), **({"downtime": downtime()} | more)))
    assert found.buys == ()
    assert found.left_out[0].reason.code == code


def test_a_part_kept_under_another_number_and_one_without_lead_time_are_left_out(sprocket: Item) -> None:
    twin = need_of(make.ItemFactory(), downtime=downtime(), kept_as_id=sprocket.pk)
    assert found_for(twin).left_out[0].reason == fact("same_part_kept_as", stock_number="SPR-1")
    found = found_for(need_of(sprocket, downtime=downtime()), lead_times=LeadTimesByItem({}))
    assert found.left_out[0].reason == fact("lead_time_not_known")


def test_it_costs_the_same_queries_however_many_parts() -> None:
    counts = []
    for size in (2, 12):
        needs = [need_of(make.ItemFactory(), downtime=downtime()) for _ in range(size)]
        with CaptureQueriesContext(connection) as queries:
            found_for(*needs)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_the_drives_add_up_to_the_downtime_of_today(sprocket: Item) -> None:
    StockingTerms.objects.create(id=1, hours_to_expedite=24)
    other = make.ItemFactory(unit_cost=Decimal("40"))
    shared = Downtime(
        cost_per_hour=Decimal("300"),
        currency="EUR",
        drives=(
            DriveShare(
                drive="STEEP-EL1-D1", position="STEEP-EL1-D1-DRV", share=0.25, cost_per_hour=Decimal("600")
            ),
            DriveShare(
                drive="KILN-FN1-D1", position="KILN-FN1-D1-DRV", share=0.5, cost_per_hour=Decimal("150")
            ),
            DriveShare(drive="DRESS-HO1-D1", position="DRESS-HO1-D1-DRV", share=0.25, cost_per_hour=None),
        ),
    )
    found = found_for(need_of(sprocket, downtime=shared), need_of(other, downtime=downtime("420")))
    assert [row.drive for row in found.by_drive] == ["STEEP-EL1-D1", "DRESS-HO1-D1", "KILN-FN1-D1"]
    first = found.by_drive[0]
    assert {part.stock_number: part.downtime_hours_per_year for part in first.parts} == {
        "SPR-1": pytest.approx(24),
        other.stock_number: pytest.approx(96),
    }
    assert [part.is_priced for part in found.by_drive[1].parts] == [False]
    assert sum(row.downtime_cost_per_year for row in found.by_drive) == found.today.downtime_cost_per_year
    hours = sum(row.downtime_hours_per_year for row in found.by_drive)
    assert hours == pytest.approx(found.today.downtime_hours_per_year)


def test_jobs_that_stop_nothing_cost_nothing(sprocket: Item) -> None:
    StockingTerms.objects.create(id=1, hours_to_expedite=24)
    found = found_for(need_of(sprocket, downtime=downtime("420", stop_share=0.25)))
    assert found.today.downtime_hours_per_year == pytest.approx(4 * 24 / 4)
    assert found.today.downtime_cost_per_year == Decimal("10080.00")


def test_the_value_of_stock_is_that_of_the_ledger(sprocket: Item) -> None:
    room, unpriced = make.StoreroomFactory(), make.ItemFactory(unit_cost=None)
    never = make.ItemFactory(unit_cost=Decimal("7"))
    make.stock(sprocket, room, 3)
    make.stock(never, room, 10)
    make.stock(never, room, 2, condition="on_hold")
    make.stock(unpriced, room, 1)
    ledger.reserve(never, room, 4, work_order="WO-1", by="Marta Keller")
    make.SupplyOrderFactory(item=sprocket, storeroom=room, quantity=5)
    found = found_for(need_of(sprocket, room, downtime=downtime())).stock_value
    ledger_value = sum(
        level.on_hand * level.item.unit_cost
        for level in StockLevel.objects.select_related("item")
        if level.item.unit_cost is not None
    )
    assert found.on_shelves == ledger_value == 3 * 40 + 12 * 7
    assert (found.on_hold, found.on_order, found.items_without_value) == (14, 200, 1)
    assert (
        found.on_shelves - found.on_hold - found.reserved + found.on_order == found.weighed + found.left_out
    )
    assert found.weighed == 8 * 40


def test_stock_of_storerooms_that_are_not_asked_for_is_not_counted(sprocket: Item) -> None:
    here, there = make.StoreroomFactory(), make.StoreroomFactory(code="NORTH")
    make.stock(sprocket, here, 1)
    make.stock(sprocket, there, 5)
    found = found_for(need_of(sprocket, here, downtime=downtime()), storerooms=[here.pk])
    assert found.stock_value.on_shelves == 40

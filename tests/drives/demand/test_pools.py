"""What is known of one part in one storeroom."""

from datetime import UTC, datetime, timedelta

import pytest

from drives.demand.cover_refresh import refresh_cover
from drives.demand.pools import load_demand_pools
from drives.models import Cover
from tests import movements
from tests.drives.demand.demand_records import LATER, day, main_room, put_in_stock, ran, request, sprocket
from tests.factories import (
    AreaFactory,
    BushItemFactory,
    DriveFactory,
    EquipmentFactory,
    PlantFactory,
    PositionFactory,
    StockPolicyFactory,
    StoreroomFactory,
    stock,
)

pytestmark = pytest.mark.django_db


def position_at(plant, **more):
    area = AreaFactory(plant=plant, code="KILN")
    equipment = EquipmentFactory(tag=f"KILN-F{plant.pk}", area=area)
    return PositionFactory(drive=DriveFactory(equipment=equipment), **more)


def pool_of(item, room=None, until=LATER):
    room = room or main_room()
    demand_pools = load_demand_pools(day(until))
    (found,) = [p for p in demand_pools.pools if item.pk in p.member_ids and p.storeroom == room]
    return found


def test_items_that_drop_into_the_same_positions_are_pooled_whatever_was_requested():
    position, first, second = PositionFactory(), sprocket("SPR-A"), sprocket("SPR-B")
    ran(position, first, 0)
    refresh_cover()
    request(10, second, position)
    request(20, first, position)
    pool = pool_of(second)
    assert (pool.part, pool.member_ids) == (first.pk, (first.pk, second.pk))
    assert [event.item_id for event in pool.positions[0].events] == [second.pk, first.pk]


def test_years_count_from_the_first_request_in_the_storeroom():
    part = sprocket()
    ran(PositionFactory(), part, -4000)
    request(365, BushItemFactory())
    pool = pool_of(part, until=365 * 3)
    assert (pool.record_from, pool.record_years, pool.exposure_years) == (day(365), 2.0, 2.0)


def test_a_position_that_came_into_use_later_counts_from_that_day():
    part = sprocket()
    request(0, BushItemFactory())
    since = (day(365).replace(hour=0, minute=0)).date()
    ran(PositionFactory(drive=DriveFactory(in_use_from=since)), part, 365)
    begin = datetime(since.year, since.month, since.day, tzinfo=UTC)
    assert pool_of(part, until=730).positions[0].years == pytest.approx(
        (day(730) - begin) / timedelta(days=365)
    )


def test_a_record_younger_than_a_month_counts_as_a_month():
    part = sprocket()
    ran(PositionFactory(), part, -4000)
    request(100, BushItemFactory())
    assert pool_of(part, until=101).exposure_years == pytest.approx(1 / 12)


@pytest.mark.parametrize("whose", ["position", "drive"])
def test_a_position_out_of_use_needs_nothing_more_but_its_requests_stay_known(whose):
    part, until = sprocket(), day(100).date()
    drive = DriveFactory(in_use_until=until if whose == "drive" else None)
    position = PositionFactory(drive=drive, in_use_until=until if whose == "position" else None)
    ran(position, part, 0)
    request(10, part, position)
    assert len(pool_of(part, until=100).positions) == 1
    pool = pool_of(part, until=101)
    assert (pool.positions, [event.position_id for event in pool.other_events]) == ((), [position.pk])


def test_chain_and_bushes_requested_for_a_position_are_pools_of_their_own():
    position, part, bush = PositionFactory(), sprocket(), BushItemFactory()
    ran(position, part, 0)
    request(10, bush, position)
    assert pool_of(part).events == ()
    assert [event.item_id for event in pool_of(bush).other_events] == [bush.pk]


def test_a_request_that_names_only_a_position_is_for_its_part():
    position, part = PositionFactory(), sprocket()
    ran(position, part, 0)
    request(10, None, position)
    assert len(pool_of(part).positions[0].events) == 1


def test_a_request_for_a_position_of_which_nothing_is_known_is_in_no_pool():
    request(10, None, PositionFactory())
    assert load_demand_pools(day(LATER)).pools == ()


def test_each_storeroom_has_a_pool_of_the_part_with_the_positions_of_its_plants():
    north = StoreroomFactory(code="NORTH")
    part, here = sprocket(), PositionFactory()
    there = position_at(PlantFactory(code="MILL", storeroom=north))
    ran(here, part, 0)
    ran(there, part, 0)
    assert [place.position for place in pool_of(part).positions] == [here]
    assert [place.position for place in pool_of(part, north).positions] == [there]


def test_a_request_for_a_position_elsewhere_is_for_its_part_and_begins_the_record_here():
    north, part, position = StoreroomFactory(code="NORTH"), sprocket(), PositionFactory()
    ran(position, part, -100)
    request(0, part, position, storeroom=north)
    request(365, part, position)
    pool = pool_of(part, until=730)
    assert (len(pool.positions[0].events), pool.record_from, pool.exposure_years) == (2, day(0), 2.0)


def test_a_request_of_a_plant_without_a_storeroom_is_not_lost():
    position, part = position_at(PlantFactory(code="MILL", storeroom=None)), sprocket()
    ran(position, part, 0)
    request(10, part, position)
    assert [event.position_id for event in pool_of(part).other_events] == [position.pk]


def test_what_is_in_stock_or_has_a_policy_is_a_pool_without_any_request():
    lying, ruled, neither = sprocket("SPR-A"), sprocket("SPR-B"), sprocket("SPR-C")
    put_in_stock(lying)
    StockPolicyFactory(item=ruled, storeroom=main_room())
    parts = {pool.part for pool in load_demand_pools(day(LATER)).pools}
    assert parts == {lying.pk, ruled.pk}
    assert neither.pk not in parts


def test_lives_are_those_of_the_part_and_temporary_units_are_kept_apart():
    position, part, other = PositionFactory(), sprocket("SPR-A"), sprocket("SPR-B", specification=None)
    ran(position, part, 0, 100)
    ran(position, other, 100, 200)
    ran(position, part, 200, 300, temporary_until=day(300).date())
    ran(position, part, 300)
    assert [life.installed_at for life in pool_of(part).lives] == [day(0), day(300)]


def test_lives_of_another_item_that_drops_in_there_count():
    position, part, other = PositionFactory(), sprocket("SPR-A"), sprocket("SPR-B")
    ran(position, other, 0, 100)
    ran(position, part, 100)
    for place, item in ((position, part), (position, other), (PositionFactory(), other)):
        Cover.objects.create(position=place, item=item, grade="drop_in", work_minutes=0)
    pool = pool_of(part)
    assert other.pk not in pool.member_ids
    assert [life.item_id for life in pool.lives] == [other.pk, part.pk]


def test_it_is_seen_as_on_the_day_in_question():
    position, part = PositionFactory(), sprocket()
    ran(position, part, 0, 400)
    request(10, part, position, work_order="WO-1")
    request(500, part, position, work_order="WO-2")
    pool = pool_of(part, until=300)
    assert (len(pool.events), [life.is_running for life in pool.lives]) == (1, [True])


def test_later_records_are_ignored_though_exposure_runs_on():
    position, part = PositionFactory(), sprocket()
    ran(position, part, 0)
    request(0, part, position)
    request(800, part, position)
    (pool,) = load_demand_pools(day(730), known_until=day(700)).pools
    assert (len(pool.events), pool.exposure_years) == (1, 2.0)
    # 730 days of 24 h at 6,000 of 8,760 hours a year.
    assert pool.lives[0].hours == pytest.approx(12_000, abs=0.05)


def a_world(positions):
    for number in range(positions):
        position, part = PositionFactory(), sprocket(f"SPR-{number}")
        stock(part, main_room(), 5)
        ran(position, part, 0, 100, "failure")
        ran(position, part, 100)
        request(300, part, position)
        entry = movements.issue(
            part, main_room(), 1, by="Marta Keller", occurred_at=day(10), work_order=f"WO-{number}"
        )
        assert entry.entry.pk
    refresh_cover()


@pytest.mark.parametrize("positions", [3, 30])
def test_the_queries_do_not_grow_with_the_plant(positions, django_assert_num_queries):
    a_world(positions)
    with django_assert_num_queries(16):
        load_demand_pools(day(LATER))

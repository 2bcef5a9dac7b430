"""What is known of one part in one storeroom."""

from datetime import UTC, datetime, timedelta

import pytest

from drives.demand.cover import refresh_cover
from drives.demand.pools import gather
from drives.models import Cover
from inventory.stores import ledger
from tests.drives.demand.world import LATER, ask, day, filled_shelf, main_room, ran, sprocket
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
    plant = gather(day(until))
    (found,) = [p for p in plant.pools if item.pk in p.member_ids and p.storeroom == room]
    return found


def test_numbers_that_drop_into_the_same_positions_are_pooled_whatever_was_asked_for():
    position, first, second = PositionFactory(), sprocket("SPR-A"), sprocket("SPR-B")
    ran(position, first, 0)
    refresh_cover()
    ask(10, second, position)
    ask(20, first, position)
    pool = pool_of(second)
    assert (pool.part, pool.member_ids) == (first.pk, (first.pk, second.pk))
    assert [asking.item_id for asking in pool.places[0].asked] == [second.pk, first.pk]


def test_years_count_from_the_first_asking_in_the_storeroom():
    part = sprocket()
    ran(PositionFactory(), part, -4000)
    ask(365, BushItemFactory())
    pool = pool_of(part, until=365 * 3)
    assert (pool.record_from, pool.record_years, pool.position_years) == (day(365), 2.0, 2.0)


def test_a_position_that_came_into_use_later_counts_from_that_day():
    part = sprocket()
    ask(0, BushItemFactory())
    since = (day(365).replace(hour=0, minute=0)).date()
    ran(PositionFactory(drive=DriveFactory(in_use_from=since)), part, 365)
    begin = datetime(since.year, since.month, since.day, tzinfo=UTC)
    assert pool_of(part, until=730).places[0].years == pytest.approx((day(730) - begin) / timedelta(days=365))


def test_a_record_younger_than_a_month_counts_as_a_month():
    part = sprocket()
    ran(PositionFactory(), part, -4000)
    ask(100, BushItemFactory())
    assert pool_of(part, until=101).position_years == pytest.approx(1 / 12)


@pytest.mark.parametrize("whose", ["position", "drive"])
def test_a_position_out_of_use_asks_no_more_but_what_it_asked_for_stays_known(whose):
    part, until = sprocket(), day(100).date()
    drive = DriveFactory(in_use_until=until if whose == "drive" else None)
    position = PositionFactory(drive=drive, in_use_until=until if whose == "position" else None)
    ran(position, part, 0)
    ask(10, part, position)
    assert len(pool_of(part, until=100).places) == 1
    pool = pool_of(part, until=101)
    assert (pool.places, [asking.position_id for asking in pool.loose]) == ((), [position.pk])


def test_chain_and_bushes_asked_for_at_a_position_are_pools_of_their_own():
    position, part, bush = PositionFactory(), sprocket(), BushItemFactory()
    ran(position, part, 0)
    ask(10, bush, position)
    assert pool_of(part).asked == ()
    assert [asking.item_id for asking in pool_of(bush).loose] == [bush.pk]


def test_a_request_for_a_place_only_is_one_for_its_part():
    position, part = PositionFactory(), sprocket()
    ran(position, part, 0)
    ask(10, None, position)
    assert len(pool_of(part).places[0].asked) == 1


def test_a_place_that_nothing_is_known_of_leaves_its_asking_unexplained():
    position = PositionFactory()
    ask(10, None, position)
    plant = gather(day(LATER))
    assert [asking.position_id for asking in plant.unexplained] == [position.pk]
    assert plant.pools == ()


def test_each_storeroom_has_a_pool_of_the_part_with_the_positions_of_its_plants():
    north = StoreroomFactory(code="NORTH")
    part, here = sprocket(), PositionFactory()
    there = position_at(PlantFactory(code="MILL", storeroom=north))
    ran(here, part, 0)
    ran(there, part, 0)
    assert [place.position for place in pool_of(part).places] == [here]
    assert [place.position for place in pool_of(part, north).places] == [there]


def test_what_a_position_asked_for_elsewhere_is_its_part_and_begins_the_record_here():
    north, part, position = StoreroomFactory(code="NORTH"), sprocket(), PositionFactory()
    ran(position, part, -100)
    ask(0, part, position, storeroom=north)
    ask(365, part, position)
    pool = pool_of(part, until=730)
    assert (len(pool.places[0].asked), pool.record_from, pool.position_years) == (2, day(0), 2.0)


def test_what_a_plant_without_a_storeroom_asked_for_is_not_lost():
    position, part = position_at(PlantFactory(code="MILL", storeroom=None)), sprocket()
    ran(position, part, 0)
    ask(10, part, position)
    assert [asking.position_id for asking in pool_of(part).loose] == [position.pk]


def test_what_lies_there_or_has_a_policy_is_a_pool_though_nobody_asks():
    lying, ruled, neither = sprocket("SPR-A"), sprocket("SPR-B"), sprocket("SPR-C")
    filled_shelf(lying)
    StockPolicyFactory(item=ruled, storeroom=main_room())
    parts = {pool.part for pool in gather(day(LATER)).pools}
    assert parts == {lying.pk, ruled.pk}
    assert neither.pk not in parts


def test_lives_are_those_of_the_part_and_temporary_units_are_kept_apart():
    position, part, other = PositionFactory(), sprocket("SPR-A"), sprocket("SPR-B", specification=None)
    ran(position, part, 0, 100)
    ran(position, other, 100, 200)
    ran(position, part, 200, 300, temporary_until=day(300).date())
    ran(position, part, 300)
    assert [life.installed_at for life in pool_of(part).lives] == [day(0), day(300)]


def test_lives_of_another_number_that_drops_in_there_count():
    position, part, other = PositionFactory(), sprocket("SPR-A"), sprocket("SPR-B")
    ran(position, other, 0, 100)
    ran(position, part, 100)
    for place, item in ((position, part), (position, other), (PositionFactory(), other)):
        Cover.objects.create(position=place, item=item, grade="drop_in", work_minutes=0)
    pool = pool_of(part)
    assert other.pk not in pool.member_ids
    assert [life.item_id for life in pool.lives] == [other.pk, part.pk]


def test_it_is_seen_as_on_the_day_asked_about():
    position, part = PositionFactory(), sprocket()
    ran(position, part, 0, 400)
    ask(10, part, position, work_order="WO-1")
    ask(500, part, position, work_order="WO-2")
    pool = pool_of(part, until=300)
    assert (len(pool.asked), [life.is_running for life in pool.lives]) == (1, [True])


def test_later_records_than_those_known_are_not_looked_at_though_exposure_runs_on():
    position, part = PositionFactory(), sprocket()
    ran(position, part, 0)
    ask(0, part, position)
    ask(800, part, position)
    (pool,) = gather(day(730), known_until=day(700)).pools
    assert (len(pool.asked), pool.position_years) == (1, 2.0)
    # 730 days of 24 h at 6,000 of 8,760 hours a year.
    assert pool.lives[0].hours == pytest.approx(12_000, abs=0.05)


def a_world(positions):
    for number in range(positions):
        position, part = PositionFactory(), sprocket(f"SPR-{number}")
        stock(part, main_room(), 5)
        ran(position, part, 0, 100, "failure")
        ran(position, part, 100)
        ask(300, part, position)
        entry = ledger.issue(
            part, main_room(), 1, by="Marta Keller", occurred_at=day(10), work_order=f"WO-{number}"
        )
        assert entry.entry.pk
    refresh_cover()


@pytest.mark.parametrize("positions", [3, 30])
def test_the_queries_do_not_grow_with_the_plant(positions, django_assert_num_queries):
    a_world(positions)
    with django_assert_num_queries(13):
        gather(day(LATER))

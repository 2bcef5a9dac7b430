"""Two storerooms six minutes apart: what is rare and dear is one need, what is frequent and cheap two."""

from datetime import timedelta
from decimal import Decimal

import pytest

from drives.demand.cover_refresh import refresh_cover
from drives.demand.needs import needs_of
from drives.demand.recompute import recompute
from drives.demand.snapshot import load_demand_snapshot
from inventory.facts import fact
from inventory.models import Recommendation, Storeroom, TransferTime
from tests.drives.demand.demand_records import day, ran, request, sprocket
from tests.factories import (
    AreaFactory,
    DriveFactory,
    EquipmentFactory,
    OpeningHoursFactory,
    PlantFactory,
    PositionFactory,
    StockPolicyFactory,
    StoreroomFactory,
    TransferTimeFactory,
    stock,
)
from tests.inventory.planning.worlds import figures

pytestmark = pytest.mark.django_db
TODAY = 2500


@pytest.fixture
def rooms():
    main, cabinet = StoreroomFactory(code="MAIN"), StoreroomFactory(code="CABINET")
    for begin, end in ((main, cabinet), (cabinet, main)):
        TransferTimeFactory(from_storeroom=begin, to_storeroom=end, minutes=6)
    return main, cabinet


def position_of(room: Storeroom, **drive):
    plant = PlantFactory(code=f"P-{room.code}", storeroom=room)
    equipment = EquipmentFactory(area=AreaFactory(plant=plant), tag=f"{room.code}-{DriveFactory._counter}")
    return PositionFactory(drive=DriveFactory(equipment=equipment, **drive))


def needs():
    refresh_cover()
    found = needs_of(load_demand_snapshot(day(TODAY)))
    return {(need.item_id, need.storeroom_id): need for need in found}


def test_a_dear_part_that_lies_in_the_next_storeroom_is_one_need(rooms):
    main, cabinet = rooms
    part = sprocket("SPR-A", unit_cost=Decimal("1480"))
    position = position_of(main)
    ran(position, part, 0, 800)
    ran(position, part, 800)
    stock(part, cabinet, 1)
    found = needs()
    home, there = found[part.pk, main.pk], found[part.pk, cabinet.pk]
    (near,) = home.keeps_for
    assert (near.storeroom_id, near.code, near.minutes, near.stops_per_year) == (cabinet.pk, "CABINET", 6, 0)
    assert near.holding_cost == pytest.approx(1480 * 0.2)
    assert home.storeroom_ids == (main.pk, cabinet.pk)
    assert home.is_kept_here
    assert not there.is_kept_here
    assert (there.kept_in.storeroom_id, there.kept_in.code, there.kept_in.minutes) == (main.pk, "MAIN", 6)
    assert there.keeps_for == ()
    assert there.demand is home.demand


@pytest.mark.parametrize("missing", ["MAIN", "CABINET"])
def test_without_both_transfer_times_nothing_is_shared(rooms, missing):
    main, cabinet = rooms
    TransferTime.objects.filter(from_storeroom__code=missing).delete()
    part = sprocket("SPR-A", unit_cost=Decimal("1480"))
    ran(position_of(main), part, 0)
    stock(part, cabinet, 1)
    assert all(need.is_kept_here and not need.keeps_for for need in needs().values())


def used_in_both(rooms, *, cost, main_requests=1, cabinet_requests=1, **drive):
    """One position at each storeroom, with so many requests in 2,400 days."""
    part = sprocket("SPR-A", unit_cost=Decimal(cost))
    for room, count in zip(rooms, (main_requests, cabinet_requests), strict=True):
        position = position_of(room, **drive)
        ran(position, part, 0)
        for number in range(count):
            request(50 + number * 2400 / count, part, position, storeroom=room)
    return part


def test_what_is_frequent_and_cheap_stays_in_both(rooms):
    part = used_in_both(rooms, cost="12", main_requests=12, cabinet_requests=12)
    found = needs()
    assert {key: need.is_kept_here for key, need in found.items()} == {
        (part.pk, room.pk): True for room in rooms
    }
    # 12 requests in 2,400 days stop the drive for 6 minutes each, at 420 an hour; a piece of 12 costs 2.40 a year.
    assert found[part.pk, rooms[1].pk].rate_per_year * 0.1 * 420 > 20 * 12 * 0.2


def test_demand_of_both_is_one_and_the_reason_holds_the_figures(rooms):
    main, cabinet = rooms
    part = used_in_both(rooms, cost="600", main_requests=2, cabinet_requests=1)
    apart = {
        pool.storeroom.pk: model.rate_per_year
        for pool, model in load_demand_snapshot(day(TODAY)).by_storeroom
    }
    home = needs()[part.pk, main.pk]
    (near,) = home.keeps_for
    assert near.stops_per_year == pytest.approx(apart[cabinet.pk])
    assert near.fetching_cost == pytest.approx(apart[cabinet.pk] * 0.1 * 420)
    assert near.fetching_cost <= near.holding_cost == pytest.approx(120)
    assert (home.positions, len(home.evidence["events"])) == (2, 3)
    years = sum(row["years"] for row in home.evidence["pool"]["positions"])
    assert home.rate_per_year == pytest.approx(3 / (years / 2), rel=1e-3)


def test_it_is_kept_where_more_is_requested_unless_that_is_closed_at_night(rooms):
    main, cabinet = rooms
    part = used_in_both(rooms, cost="2500", main_requests=1, cabinet_requests=3)
    assert needs()[part.pk, cabinet.pk].is_kept_here
    Storeroom.objects.filter(pk=cabinet.pk).update(call_out_minutes=None)
    for weekday in range(7):
        OpeningHoursFactory(storeroom=main, weekday=weekday, opens="00:00", closes="00:00")
        OpeningHoursFactory(storeroom=cabinet, weekday=weekday, opens="06:00", closes="14:00")
    found = needs()
    assert found[part.pk, main.pk].is_kept_here
    assert found[part.pk, cabinet.pk].kept_in.code == "MAIN"


def test_the_record_begins_where_that_of_both_is_complete(rooms):
    main, cabinet = rooms
    part = sprocket("SPR-A", unit_cost=Decimal("900"))
    early, late = position_of(main), position_of(cabinet)
    request(0, part, early, storeroom=main)
    request(1000, part, early, storeroom=main)
    request(900, part, late, storeroom=cabinet)
    home = needs()[part.pk, main.pk]
    assert home.keeps_for
    assert home.evidence["pool"]["record_from"] == day(900).isoformat()
    assert [event["at"] for event in home.evidence["events"]] == [day(900).isoformat(), day(1000).isoformat()]
    assert [event["at"] for event in home.evidence["earlier_events"]] == [day(0).isoformat()]
    years = [row["years"] for row in home.evidence["pool"]["positions"]]
    assert years == pytest.approx([1600 / 365] * 2, abs=0.01)


def test_a_number_that_is_not_kept_lies_in_the_other_storeroom(rooms):
    main, cabinet = rooms
    part, twin = sprocket("SPR-A", unit_cost=Decimal("900")), sprocket("SPR-B", unit_cost=Decimal("950"))
    ran(position_of(main), part, 0)
    stock(twin, cabinet, 1)
    found = needs()
    assert set(found) == {(part.pk, main.pk), (twin.pk, cabinet.pk)}
    assert (found[twin.pk, cabinet.pk].kept_as_id, found[twin.pk, cabinet.pk].kept_in.code) == (
        part.pk,
        "MAIN",
    )


def advice(item, room):
    return Recommendation.objects.current().get(item=item, storeroom=room)


def codes(one):
    return {reason["code"] for reason in one.explanation}


def test_what_changes_in_one_storeroom_changes_the_advice_of_the_one_that_keeps_it(rooms):
    main, cabinet = rooms
    part = used_in_both(rooms, cost="1480", main_requests=2, cabinet_requests=1)
    StockPolicyFactory(item=part, storeroom=cabinet, reorder_point=0, order_up_to=1)
    at = day(TODAY) + timedelta(hours=2)
    recompute(as_of=at, by="demo")
    before = advice(part, main)
    assert before.stocked
    assert (
        fact("kept_in_storeroom", storeroom="MAIN", minutes=6).as_json() in advice(part, cabinet).explanation
    )
    assert (advice(part, cabinet).stocked, advice(part, cabinet).changed) == (False, True)
    assert "kept_for_storeroom" in codes(before)

    request(2450, part, position_of(cabinet), storeroom=cabinet)
    run = recompute(as_of=at, by="demo")
    after = advice(part, main)
    assert (after.pk != before.pk, after.rate_per_year > before.rate_per_year) == (True, True)
    assert run.recomputed == 2
    found = figures()
    recompute(as_of=at, by="demo", is_full=True)
    assert figures() == found


def test_insurance_holds_for_all_storerooms_that_share_it(rooms):
    main, cabinet = rooms
    part = sprocket("SPR-A", unit_cost=Decimal("1480"), holding_reason="insurance", lead_time_days=98)
    ran(position_of(main), part, 0)
    stock(part, cabinet, 1)
    recompute(as_of=day(TODAY), by="demo")
    assert advice(part, main).stocked
    assert not advice(part, cabinet).stocked
    assert "insurance_ends" not in codes(advice(part, cabinet))

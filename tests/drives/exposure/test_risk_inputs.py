from datetime import UTC, date, datetime, timedelta

import pytest

from drives.demand.snapshot import load_demand_snapshot
from drives.exposure.risk_inputs import load_risk_inputs
from drives.models import Cover
from inventory.models import StockingTerms, SupplyOrder
from inventory.stores import ledger
from tests.factories import (
    DriveFactory,
    InstallationFactory,
    ItemFactory,
    PositionFactory,
    StoreroomFactory,
    TransferTimeFactory,
    stock,
)
from tests.stored_demand import calculate_demands

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 24, 9, tzinfo=UTC)


def covers(item, position, grade="drop_in"):
    Cover.objects.create(position=position, item=item, grade=grade)


def on_order(item, promised_on, **more):
    facts = {"source": "ERP", "external_id": f"4500-{item.pk}", "quantity": 2}
    more.setdefault("storeroom", StoreroomFactory())
    SupplyOrder.objects.create(
        item=item,
        ordered_at=NOW - timedelta(days=10),
        promised_on=promised_on,
        **(facts | more),
    )


def test_available_pieces_are_counted_in_every_storeroom_and_reserved_ones_are_not():
    item, position = ItemFactory(), PositionFactory()
    covers(item, position)
    stock(item, StoreroomFactory(), 3)
    stock(item, StoreroomFactory(code="NORTH"), 1)
    stock(item, StoreroomFactory(code="SOUTH"), 5, condition="on_hold")
    ledger.reserve(item, StoreroomFactory(), 1, work_order="WO-1", by="Marta Keller")
    found = load_risk_inputs(NOW)
    assert [(one.storeroom, one.available) for one in found.stock[item.pk]] == [("MAIN", 2), ("NORTH", 1)]
    assert found.cover.items_for(position.pk) == {(item.pk, StoreroomFactory().pk)}
    TransferTimeFactory(
        from_storeroom=StoreroomFactory(code="NORTH"), to_storeroom=StoreroomFactory(), minutes=40
    )
    found = load_risk_inputs(NOW)
    assert sum(found.cover.pieces[key] for key in found.cover.items_for(position.pk)) == 3
    assert [(one.storeroom, one.minutes) for one in found.stock_for(item.pk, position.pk)] == [
        ("MAIN", 0),
        ("NORTH", 40),
    ]


def test_on_a_lifting_drive_nothing_but_the_fitted_item_covers():
    fitted, other = ItemFactory(), ItemFactory()
    hoist = PositionFactory(drive=DriveFactory(lifting=True))
    InstallationFactory(position=hoist, item=fitted)
    covers(fitted, hoist)
    covers(other, hoist)
    assert list(load_risk_inputs(NOW).grades[hoist.pk]) == [fitted.pk]


def test_on_a_lifting_drive_a_temporary_unit_covers_nothing_and_the_removed_one_still_does():
    wanted, temporary = ItemFactory(), ItemFactory()
    hoist = PositionFactory(drive=DriveFactory(lifting=True))
    first, then = NOW - timedelta(days=90), NOW - timedelta(days=9)
    InstallationFactory(position=hoist, item=wanted, installed_at=first, removed_at=then, ended_by="failure")
    InstallationFactory(
        position=hoist, item=temporary, installed_at=then, temporary_until=NOW.date(), approved_by="Ines"
    )
    covers(wanted, hoist)
    covers(temporary, hoist)
    assert list(load_risk_inputs(NOW).grades[hoist.pk]) == [wanted.pk]


def test_the_worst_grade_of_the_terms_decides_what_counts_as_cover():
    item, position = ItemFactory(), PositionFactory()
    covers(item, position, "with_work")
    assert item.pk in load_risk_inputs(NOW).grades[position.pk]
    StockingTerms.objects.update_or_create(id=1, defaults={"worst_grade": "drop_in"})
    assert item.pk not in load_risk_inputs(NOW).grades[position.pk]


@pytest.mark.parametrize(
    ("promised", "more", "days"),
    [
        (date(2026, 11, 29), {}, 5),
        (date(2027, 3, 1), {}, 21),
        (date(2026, 11, 20), {}, 21),
        (date(2026, 11, 29), {"received_quantity": 2}, 21),
        (date(2026, 11, 29), {"status": "cancelled"}, 21),
    ],
)
def test_the_next_piece_comes_with_the_promised_delivery_or_after_the_lead_time(promised, more, days):
    item, position = ItemFactory(lead_time_days=21), PositionFactory()
    covers(item, position)
    on_order(item, promised, **more)
    assert load_risk_inputs(NOW).days_to(item.pk, position.pk) == days


def test_a_delivery_to_a_storeroom_out_of_reach_is_no_next_piece():
    item, position = ItemFactory(lead_time_days=21), PositionFactory()
    covers(item, position)
    north = StoreroomFactory(code="NORTH")
    on_order(item, date(2026, 11, 29), storeroom=north)
    assert load_risk_inputs(NOW).days_to(item.pk, position.pk) == 21
    TransferTimeFactory(from_storeroom=north, to_storeroom=StoreroomFactory(), minutes=40)
    assert load_risk_inputs(NOW).days_to(item.pk, position.pk) == 5


def test_hours_to_wait_are_the_plants_own_else_those_of_past_emergencies_else_of_an_order():
    item, position = ItemFactory(lead_time_days=21), PositionFactory()
    slow = ItemFactory(lead_time_days=90)
    covers(item, position)
    covers(slow, position)

    def hours():
        inputs = load_risk_inputs(NOW)
        return [inputs.hours_to(one.pk, position.pk) for one in (item, slow)]

    assert hours() == [21 * 24, 90 * 24]
    SupplyOrder.objects.create(
        source="ERP",
        external_id="4501",
        item=item,
        storeroom=StoreroomFactory(),
        quantity=1,
        received_quantity=1,
        status="received",
        emergency=True,
        ordered_at=NOW - timedelta(days=10),
        received_at=NOW - timedelta(days=9),
    )
    # What takes longer than anything that ever came in an emergency is made to order.
    assert hours() == [24, 90 * 24]
    StockingTerms.objects.update_or_create(id=1, defaults={"hours_to_expedite": 10})
    assert hours() == [10, 10]


def test_the_number_of_queries_does_not_depend_on_the_plant(django_assert_num_queries):
    def grow():
        item, position = ItemFactory(), PositionFactory()
        covers(item, position)
        stock(item, StoreroomFactory(), 1)

    grow()
    with django_assert_num_queries(12):
        load_risk_inputs(NOW)
    for _ in range(4):
        grow()
    with django_assert_num_queries(12):
        assert len(load_risk_inputs(NOW).positions) == 5


def test_demand_is_what_the_last_calculation_stored():
    item, position = ItemFactory(), PositionFactory()
    InstallationFactory(position=position, item=item, installed_at=NOW - timedelta(days=400))
    covers(item, position)
    assert load_risk_inputs(NOW).not_calculated == {position.pk}
    calculate_demands(NOW)
    later = PositionFactory()
    found = load_risk_inputs(NOW)
    assert (set(found.demands), found.not_calculated) == ({position.pk}, {later.pk})
    assert found.demands_as_of == NOW
    assert found.demands == {
        one: demand
        for one, demand in load_demand_snapshot(NOW).position_demands.items()
        if one == position.pk
    }

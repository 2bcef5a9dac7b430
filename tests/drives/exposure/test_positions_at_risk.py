from decimal import Decimal

import pytest

from drives.exposure.positions_at_risk import standing, standings
from tests.drives.exposure.plants import outlook, place


def tags(found):
    return [row.place.tag for row in found]


def test_money_is_chance_times_cost_of_an_hour_times_hours_to_expedite():
    row = standing(outlook({1: [7]}, {7: 0}, {1: 0.25}, hours=6), 1)
    assert row.chance.value == pytest.approx(0.25)
    assert row.expected_cost == Decimal("600.00")


def test_unknown_hours_leave_the_cost_unknown_and_the_order_by_money():
    cheap = place(1, cost_per_hour=Decimal("10"))
    found = standings(outlook({1: [7], 2: [8]}, {}, {1: 0.5, 2: 0.1}, places={1: cheap}))
    assert tags(found) == ["KILN-P2", "KILN-P1"]
    assert {row.expected_cost for row in found} == {None}


def test_what_is_not_known_has_its_own_place_and_is_never_nothing():
    places = {
        2: place(2, cost_per_hour=None, criticality="vital"),
        3: place(3, cost_per_hour=None, criticality="desirable"),
    }
    asks = {1: 0.001, 2: 0.9, 3: 0.95}
    found = standings(outlook({4: [], 3: [7], 2: [7], 1: [7]}, {}, asks, places=places, hours=8))
    assert tags(found) == ["KILN-P1", "KILN-P2", "KILN-P3", "KILN-P4"]
    assert [row.expected_cost for row in found[1:]] == [None, None, None]
    assert found[3].chance is None


def test_costs_in_another_currency_are_not_mixed_in():
    places = {3: place(3, currency="CHF", cost_per_hour=Decimal("9000"))}
    found = standings(outlook({1: [7], 2: [8], 3: [9]}, {}, {1: 0.1, 2: 0.2, 3: 0.9}, places=places))
    assert tags(found) == ["KILN-P2", "KILN-P1", "KILN-P3"]


def test_the_time_ends_when_the_soonest_of_what_serves_it_can_be_there():
    row = standing(outlook({1: [7, 8]}, {}, {1: 0.1}, days={7: 30.0, 8: 12.0}), 1)
    assert (row.lead_time_days, row.lead_time_item) == (12.0, "SPR-8")


def test_without_a_lead_time_the_chance_is_not_known():
    row = standing(outlook({1: [7]}, {}, {1: 0.1}, days={}), 1)
    assert row.chance is None
    assert "enter its lead time" in row.sentence


def test_what_nothing_in_the_catalogue_serves_is_said():
    assert "No item in the catalogue serves KILN-P1" in standing(outlook({1: []}, {}, {1: 0.1}), 1).sentence


def test_what_a_position_asks_for_may_not_be_known():
    assert "cannot be told" in standing(outlook({1: [7]}, {}, {}), 1).sentence


def test_it_says_what_serves_where_it_lies_and_that_it_must_be_sent():
    here = standing(outlook({1: [7, 8]}, {8: 2}, {1: 0.1}), 1)
    there = standing(outlook({1: [7, 8]}, {8: 2}, {1: 0.1}, room="NORTH"), 1)
    assert [(row.stock_number, row.available) for row in here.covers] == [("SPR-8", 2), ("SPR-7", 0)]
    assert (here.needs_transfer, there.needs_transfer) == (False, True)
    assert here.chance == there.chance


def test_only_the_positions_asked_for_are_listed_but_all_of_them_take_their_share():
    found = standings(outlook({1: [7], 2: [7]}, {7: 1}, {1: 0.5, 2: 0.2}), among=[1])
    assert tags(found) == ["KILN-P1"]
    assert found[0].chance.value == pytest.approx(0.1)

from dataclasses import replace
from decimal import Decimal

import pytest

from drives.exposure.positions_at_risk import position_risks, positions_at_risk, ranked, shortened
from drives.exposure.risk_inputs import StoreroomStock
from drives.exposure.unserved_chance import UnservedChance
from inventory.facts import fact
from tests.drives.exposure.built_inputs import risk_inputs, risk_position


def position_risk(inputs, position):
    return position_risks(inputs, [position])[0]


def tags(found):
    return [row.position.tag for row in found]


def test_money_is_chance_times_cost_of_an_hour_times_hours_to_wait():
    row = position_risk(risk_inputs({1: [7]}, {7: 0}, {1: 0.25}, hours=6), 1)
    assert row.chance.value == pytest.approx(0.25)
    assert row.expected_cost == Decimal("600.00")


def test_without_hours_to_wait_the_cost_is_not_known_and_the_order_is_the_same():
    cheap = risk_position(1, downtime_cost_per_hour=Decimal("10"))
    found = positions_at_risk(risk_inputs({1: [7], 2: [8]}, {}, {1: 0.5, 2: 0.1}, positions={1: cheap}))
    assert tags(found) == ["KILN-P2", "KILN-P1"]
    assert {row.expected_cost for row in found} == {None}


def test_what_is_not_known_comes_last_and_is_not_zero():
    positions = {
        2: risk_position(2, downtime_cost_per_hour=None, criticality="vital"),
        3: risk_position(3, downtime_cost_per_hour=None, criticality="desirable"),
    }
    chances = {1: 0.001, 2: 0.9, 3: 0.95}
    found = positions_at_risk(
        risk_inputs({4: [], 3: [7], 2: [7], 1: [7]}, {}, chances, positions=positions, hours=8)
    )
    assert tags(found) == ["KILN-P1", "KILN-P2", "KILN-P3", "KILN-P4"]
    assert [row.expected_cost for row in found[1:]] == [None, None, None]
    assert found[3].chance is None


def test_costs_in_another_currency_are_not_mixed_in():
    positions = {3: risk_position(3, currency="CHF", downtime_cost_per_hour=Decimal("9000"))}
    found = positions_at_risk(
        risk_inputs({1: [7], 2: [8], 3: [9]}, {}, {1: 0.1, 2: 0.2, 3: 0.9}, positions=positions)
    )
    assert tags(found) == ["KILN-P2", "KILN-P1", "KILN-P3"]


def test_the_time_ends_when_the_soonest_item_can_be_there():
    row = position_risk(risk_inputs({1: [7, 8]}, {}, {1: 0.1}, days={7: 30.0, 8: 12.0}), 1)
    assert (row.lead_time_days, row.lead_time_item) == (12.0, "SPR-8")


def test_without_a_lead_time_the_chance_is_not_known():
    row = position_risk(risk_inputs({1: [7]}, {}, {1: 0.1}, days={}), 1)
    assert row.chance is None
    assert row.reason == fact("days_to_next_piece_not_known", item="SPR-7")


def test_a_position_that_nothing_serves_says_so():
    risk = position_risk(risk_inputs({1: []}, {}, {1: 0.1}), 1)
    assert risk.reason == fact("nothing_serves_position", position="KILN-P1")


def test_the_demand_of_a_position_may_not_be_known():
    risk = position_risk(risk_inputs({1: [7]}, {}, {}), 1)
    assert risk.reason == fact("demand_of_position_not_known", position="KILN-P1")


def test_it_has_what_serves_it_where_that_is_and_whether_it_must_be_transferred():
    here = position_risk(risk_inputs({1: [7, 8]}, {8: 2}, {1: 0.1}), 1)
    there = position_risk(risk_inputs({1: [7, 8]}, {8: 2}, {1: 0.1}, room="NORTH", minutes=40), 1)
    assert [(row.stock_number, row.available) for row in here.covers] == [("SPR-8", 2), ("SPR-7", 0)]
    assert (here.needs_transfer, there.needs_transfer) == (False, True)
    assert here.chance == there.chance


def test_a_piece_six_minutes_away_serves_after_six_minutes():
    """A demand in four finds the one piece: at 400 an hour, six minutes of it are 10. Without it, 6 hours would be 600."""
    row = position_risk(risk_inputs({1: [7]}, {7: 1}, {1: 0.25}, hours=6, room="NORTH", minutes=6), 1)
    assert (row.chance.value, row.expected_cost, row.needs_transfer) == (0, Decimal("10.00"), True)
    assert (row.nearest.storeroom, row.nearest.minutes) == ("NORTH", 6)


def test_a_shared_piece_serves_after_its_minutes_where_it_is_left():
    row = position_risk(
        risk_inputs({1: [7], 2: [7]}, {7: 1}, {1: 0.25, 2: 0.5}, hours=6, room="NORTH", minutes=30), 1
    )
    assert row.chance.value == pytest.approx(0.125)
    assert row.expected_cost == Decimal("400") * Decimal("0.125") * (6 + Decimal("0.5"))


def test_without_a_transfer_time_on_record_a_piece_is_not_within_reach():
    row = position_risk(risk_inputs({1: [7]}, {7: 1}, {1: 0.25}, hours=6, room="NORTH"), 1)
    assert (row.chance.value, row.expected_cost) == (pytest.approx(0.25), Decimal("600.00"))
    assert (row.needs_transfer, row.nearest, row.reason.values["available"]) == (True, None, 0)
    assert [(one.storeroom, one.available, one.minutes) for one in row.covers[0].stock] == [
        ("NORTH", 1, None)
    ]


def test_a_list_has_the_best_parts_in_the_nearest_storerooms_and_counts_the_others():
    inputs = risk_inputs({1: [7, 8, *range(10, 16)]}, {7: 1, 8: 2}, {1: 0.1}, room="NORTH", minutes=40)
    minutes = (None, 50, 40, 30, 20, 10)
    stock = tuple(StoreroomStock(f"R{n}", 1, 10 + n, far) for n, far in enumerate(minutes))
    risk = position_risk(inputs, 1)
    best = replace(risk.covers[0], stock=stock, available=6)
    short = shortened(replace(risk, covers=(best, *risk.covers[1:])))
    assert (len(short.covers), short.further_covers) == (3, 5)
    assert [one.stock_number for one in short.covers[:2]] == ["SPR-8", "SPR-7"]
    assert [one.minutes for one in short.covers[0].stock] == [10, 20, 30]
    assert (short.covers[0].available, short.covers[0].further_storerooms) == (6, 3)
    assert (short.nearest, short.needs_transfer) == (risk.nearest, True)


def test_where_hours_are_known_the_dearest_wait_is_first():
    """A rare stop of a day costs less than a frequent one of an hour."""
    inputs = risk_inputs({1: [7], 2: [8]}, {7: 1}, {1: 0.9, 2: 0.01}, hours=24, room="NORTH", minutes=60)
    assert tags(positions_at_risk(inputs)) == ["KILN-P1", "KILN-P2"]


def test_a_position_listed_alone_still_shares_with_the_others():
    risks = positions_at_risk(risk_inputs({1: [7], 2: [7]}, {7: 1}, {1: 0.5, 2: 0.2}))
    found = ranked(risk for risk in risks if risk.position.position_id == 1)
    assert tags(found) == ["KILN-P1"]
    assert found[0].chance.value == pytest.approx(0.1)


def test_the_reason_has_the_chances_and_the_available_pieces():
    found = position_risk(risk_inputs({1: [7]}, {7: 3}, {1: 0.25}), 1)
    chances = {"chance_of_demand": found.chance.of_demand, "chance": found.chance.value}
    assert found.reason == fact("chance_unserved", position="KILN-P1", days=20.0, **chances, available=3)


def test_a_bound_has_a_reason_of_its_own(monkeypatch):
    bound = UnservedChance(0.2, 0.1, 0.3)
    monkeypatch.setattr(
        "drives.exposure.positions_at_risk.chances_unserved",
        lambda some, *_, **__: dict.fromkeys(some, bound),
    )
    found = position_risk(risk_inputs({1: [7]}, {7: 1}, {1: 0.3}), 1)
    assert (found.reason.code, found.reason.values["chance"]) == ("chance_unserved_at_most", 0.2)


def test_a_dear_hour_that_is_short_comes_after_a_cheap_one_that_is_long():
    inputs = risk_inputs(
        {1: [7], 2: [8]},
        {},
        {1: 0.1, 2: 0.1},
        positions={2: risk_position(2, downtime_cost_per_hour=Decimal("800"))},
    )
    inputs = replace(inputs, hours_to_item={(7, 1): 90.0, (8, 1): 30.0})
    found = positions_at_risk(inputs)
    assert [(row.position.tag, row.expected_cost) for row in found] == [
        ("KILN-P1", Decimal("3600.00")),
        ("KILN-P2", Decimal("2400.00")),
    ]


def test_it_waits_for_what_comes_soonest_of_all_that_serves():
    inputs = replace(risk_inputs({1: [7, 8]}, {}, {1: 0.1}), hours_to_item={(7, 1): 90.0, (8, 1): 30.0})
    assert position_risk(inputs, 1).hours_to_wait == 30

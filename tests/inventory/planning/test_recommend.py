"""Reference figures: the stocking core, called by hand with the same numbers."""

import json
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from inventory.facts import fact, fact_from_json
from inventory.planning.policy_inputs import (
    HOLD_NONE,
    HOLD_ONE,
    ItemDetails,
    Need,
    OrderDate,
    PolicyLevels,
    WearNotice,
)
from inventory.planning.terms import Terms
from inventory.stocking.demand_models import GivenDemand, IntermittentDemand, PoissonDemand
from inventory.stocking.evaluate import evaluate
from inventory.stocking.lead_time_demand import poisson
from inventory.stocking.service_levels import ServiceProfile
from inventory.stocking.targets import ServiceLevelTarget
from inventory.stores.lead_times import LeadTime
from tests.inventory.planning.cases import (
    PRICED,
    UNPRICED,
    advice,
    codes,
    downtime,
    lead_time,
    need,
    reason,
    targets,
)

MEAN = 4.0 * 45 / 365


def test_it_gives_the_levels_of_the_core() -> None:
    found = advice()
    core = evaluate(PoissonDemand(4.0), 45, 0, 1, ServiceLevelTarget("fill_rate", 0.95))
    assert (found.reorder_point, found.order_up_to) == (core.reorder_point, core.order_up_to)
    assert found.fill_rate == pytest.approx(core.fill_rate, abs=1e-12)
    assert found.expected_stockouts_per_year == pytest.approx(core.expected_stockouts_per_year, abs=1e-11)
    assert found.expected_lead_time_demand == pytest.approx(MEAN)


def test_holding_is_price_times_rate_times_mean_stock_rounded_once() -> None:
    found = advice()
    quantity = found.order_up_to - found.reorder_point
    on_hand = float(ServiceProfile(poisson(MEAN), quantity).on_hand[found.reorder_point + 1])
    exact = Decimal(repr(38.5 * 0.2 * on_hand))
    assert found.holding_cost_per_year is not None
    assert abs(found.holding_cost_per_year - exact) <= Decimal("0.005")
    assert found.holding_cost_per_year.as_tuple().exponent == -2


def test_equal_inputs_give_equal_advice_to_the_last_digit() -> None:
    one, other = ({**vars(advice()), "_state": None} for _ in range(2))
    assert one == other


def test_today_is_measured_with_the_same_demand_and_lead_time() -> None:
    found = advice(today=PolicyLevels(True, 0, 3))
    unfilled = ServiceProfile(poisson(MEAN), 3).unfilled[1]
    assert found.today["fill_rate"] == pytest.approx(1 - unfilled, abs=1e-12)
    assert found.today["expected_stockouts_per_year"] == pytest.approx(4 * unfilled, abs=1e-11)
    assert (found.today["order_up_to"], found.changed) == (3, True)


def test_the_advice_in_force_changes_nothing() -> None:
    found = advice(today=advice().levels)
    assert not found.changed
    assert found.today["fill_rate"] == found.fill_rate
    assert "same_levels_today" in codes(found)


def test_nothing_kept_and_nothing_set_is_no_change() -> None:
    assert not advice(item=replace(PRICED, lifecycle="blocked")).changed
    assert advice(item=replace(PRICED, lifecycle="blocked"), today=HOLD_ONE).changed


def test_reasons_come_in_the_order_of_the_questions() -> None:
    cover = fact("recorded_text", text="SPR-9 can be used after boring.")
    assert codes(advice(need(cover_explanation=(cover,)))) == [
        "recorded_text",
        "lead_time_without_spread",
        "lead_time_entered",
        "holds_every_year",
        "costs_not_compared",
        "service_target_default",
        "ordered_one_by_one",
        "levels_recommended",
        "expected_service",
        "expected_cost",
        "holding_rate_default",
        "no_levels_today",
        "recorded_text",
    ]


def test_a_lead_time_that_varies_gives_its_spread() -> None:
    found = advice(lead_time=lead_time(sd_days=8.0))
    assert reason(found, "lead_time_with_spread") == fact(
        "lead_time_with_spread", mean_days=45.0, sd_days=8.0
    )


def test_a_start_value_is_called_one() -> None:
    own = codes(advice(targets=targets(), terms=Terms(are_start_values=False)))
    assert "service_target" in own
    assert not {"service_target_default", "holding_rate_default"} & {*own}
    assert {"service_target_default", "holding_rate_default"} < {*codes(advice())}


def test_without_a_lead_time_it_is_not_answerable() -> None:
    found = advice(lead_time=None, today=PolicyLevels(True, 2, 4))
    assert (found.is_answered, found.changed, found.levels) == (False, False, PolicyLevels(True, 2, 4))
    assert reason(found, "enter_lead_time_first") == fact("enter_lead_time_first", stock_number="SPR-1")
    assert "levels_stay_until_then" in codes(found)
    assert (found.lead_time_days, found.fill_rate, found.expected_stockouts_per_year) == (None, None, None)
    assert advice(lead_time=None).levels == HOLD_NONE


@pytest.mark.parametrize(
    ("one", "days"),
    [
        (need(), lead_time(mean_days=4000)),
        (need(), lead_time(mean_days=0)),
        (need(demand=GivenDemand(pmf=[0.5, 0.5])), lead_time(sd_days=9)),
        (need(rate=1e6), lead_time(mean_days=3650)),
    ],
)
def test_what_cannot_be_calculated_is_said_and_stops_nothing(one: Need, days: LeadTime) -> None:
    found = advice(one, lead_time=days, today=PolicyLevels(True, 1, 2))
    assert (found.is_answered, found.changed, found.levels) == (False, False, PolicyLevels(True, 1, 2))
    assert reason(found, "cannot_be_calculated").values["message"]


def test_the_same_part_kept_under_another_number_is_bought_no_more() -> None:
    found = advice(need(kept_as_id=7), kept_as="SPR-7", today=PolicyLevels(True, 1, 2))
    assert (found.levels, found.is_answered) == (HOLD_NONE, True)
    assert fact("same_part_kept_as", stock_number="SPR-7") in found.explanation
    assert found.review_after_days == 180
    assert (found.fill_rate, found.expected_stockouts_per_year) == (None, None)
    assert "bought_when_needed" not in codes(found)


@pytest.mark.parametrize(("lifecycle", "code"), [("run_down", "item_run_down"), ("blocked", "item_blocked")])
def test_a_lifecycle_that_ends_buys_none(lifecycle: str, code: str) -> None:
    found = advice(item=replace(PRICED, lifecycle=lifecycle))
    assert found.levels == HOLD_NONE
    assert fact(code, stock_number="SPR-1") in found.explanation


def test_a_lifecycle_that_ends_names_the_insurance_it_ends() -> None:
    found = advice(item=replace(PRICED, lifecycle="run_down", holding_reason="insurance"))
    assert "insurance_ends" in codes(found)


def test_insurance_keeps_one_against_the_numbers() -> None:
    waits = targets(tolerable_wait_hours=48)
    insured = replace(PRICED, holding_reason="insurance")
    found = advice(item=insured, targets=waits, emergency_hours=24)
    assert found.levels == HOLD_ONE
    assert "kept_as_insurance" in codes(found)
    assert reason(found, "by_numbers_alone").values["finding"].code == "expedited_in_tolerable_wait"
    assert advice(targets=waits, emergency_hours=24).levels == HOLD_NONE


def test_insurance_without_a_lead_time_keeps_what_is_set() -> None:
    insured = replace(PRICED, holding_reason="insurance")
    assert advice(item=insured, lead_time=None).levels == HOLD_ONE
    found = advice(item=insured, lead_time=None, today=PolicyLevels(True, 1, 2))
    assert (found.levels, found.changed) == (PolicyLevels(True, 1, 2), False)
    assert reason(found, "by_numbers_alone").values["finding"].code == "enter_lead_time_first"


def test_insurance_without_requests_stays() -> None:
    insured = replace(PRICED, holding_reason="insurance")
    never_requested = need(demand=None, rate_per_year=0.0, model="none")
    alone = advice(never_requested, item=insured, lead_time=None)
    assert (alone.levels, alone.is_answered) == (HOLD_ONE, True)
    assert fact("by_numbers_alone", finding=fact("no_unplanned_demand")) in alone.explanation
    assert advice(never_requested, item=insured).levels == HOLD_ONE
    assert advice(never_requested, item=insured, today=PolicyLevels(True, 1, 2)).levels == PolicyLevels(
        True, 1, 2
    )
    assert advice(never_requested).levels == HOLD_NONE


NOTICE = WearNotice(
    wear_share=0.75, notice_days=120, order_by=(OrderDate("2026-04-02", "STEEP-EL1-P1", 0.1),)
)


def test_wear_seen_in_time_leaves_the_sudden_rest_to_the_shelf() -> None:
    one = need(notice=NOTICE, sudden_demand=PoissonDemand(1.0))
    found = advice(one, lead_time=lead_time(sd_days=15))
    alone = advice(need(rate=1.0), lead_time=lead_time(sd_days=15))
    assert (found.levels, found.fill_rate) == (alone.levels, alone.fill_rate)
    assert found.levels != advice(lead_time=lead_time(sd_days=15)).levels
    seen = reason(found, "wear_notice_in_time").values
    assert (seen["wear_share"], seen["notice_days"], seen["planning_days"]) == (0.75, 120, 7.0)
    assert seen["late_delivery_days"] == pytest.approx(lead_time(sd_days=15).late_days)
    assert (
        fact("order_for_position", position="STEEP-EL1-P1", order_by="2026-04-02", chance=0.1)
        in found.explanation
    )


@pytest.mark.parametrize(("sd_days", "planning_days"), [(45.0, 7.0), (15.0, 60.0)])
def test_notice_shorter_than_a_late_delivery_is_no_help(sd_days: float, planning_days: float) -> None:
    one = need(notice=NOTICE, sudden_demand=PoissonDemand(1.0))
    found = advice(one, lead_time=lead_time(sd_days=sd_days), terms=Terms(planning_days=planning_days))
    assert found.levels == advice(lead_time=lead_time(sd_days=sd_days)).levels
    assert "wear_notice_too_short" in codes(found)
    assert "order_for_position" not in codes(found)


def test_wear_alone_needs_no_stock() -> None:
    found = advice(need(notice=NOTICE, sudden_demand=PoissonDemand(0.0)))
    assert found.levels == HOLD_NONE
    assert "no_demand_for_stock" in codes(found)


@pytest.mark.parametrize(
    ("hours", "levels", "code"),
    [
        (24.0, HOLD_NONE, "expedited_in_tolerable_wait"),
        (48.0, HOLD_NONE, "expedited_in_tolerable_wait"),
        (49.0, None, "expedited_after_tolerable_wait"),
        (None, None, "tolerable_wait_not_compared"),
    ],
)
def test_an_acceptable_wait_needs_no_stock(hours: float | None, levels: Any, code: str) -> None:
    found = advice(targets=targets(tolerable_wait_hours=48), emergency_hours=hours)
    assert found.levels == (levels or advice().levels)
    wait = reason(found, code).values
    assert (wait["tolerable_wait_hours"], wait["importance"]) == (48, "essential")
    assert wait.get("hours_to_expedite") == hours
    assert wait.get("basis") == (fact("emergency_orders_of_item", orders=3) if hours else None)


def test_hours_in_the_terms_come_before_past_emergencies() -> None:
    terms = Terms(hours_to_expedite=72)
    found = advice(targets=targets(tolerable_wait_hours=48), emergency_hours=24, terms=terms)
    assert found.stocked
    assert reason(found, "expedited_after_tolerable_wait").values["basis"] == fact(
        "expedite_hours_from_terms"
    )


DEAR = ItemDetails(stock_number="SPR-1", unit_cost=Decimal("6000"))


def test_a_dear_part_that_rarely_stops_much_is_not_kept() -> None:
    rare = need(rate=0.05, downtime=downtime("20"))
    found = advice(rare, item=DEAR, emergency_hours=24)
    assert found.levels == HOLD_NONE
    costs = reason(found, "none_cheaper").values
    # A piece at 1200 a year, and 480 for each of 0.05 requests in 1 / (1 + 365 / 45 / 0.05) that find it away.
    assert (costs["cost_with_stock"], costs["cost_without_stock"]) == ("1200.15", "24.00")
    assert (costs["currency"], costs["hours_to_expedite"]) == ("EUR", 24)


def test_a_vital_part_is_kept_although_none_is_cheaper() -> None:
    rare = need(rate=0.05, downtime=downtime("20"), importance="vital")
    found = advice(rare, item=DEAR, emergency_hours=24)
    assert found.stocked
    assert "none_cheaper_but_vital" in codes(found)


SHARED = {"item": ItemDetails(stock_number="SPR-1", unit_cost=Decimal("30000")), "emergency_hours": 40}


def shared(positions: int, days: float, **more: Any) -> Any:
    """0.05 requests a year of each position, 40,000 lost for each that finds no piece, 22 % for holding."""
    one = need(rate=0.05 * positions, positions=positions, downtime=downtime("1000"))
    terms = Terms(holding_rate_per_year=0.22)
    return advice(one, lead_time=lead_time(mean_days=days), terms=terms, **{**SHARED, **more})


def test_a_spare_shared_by_drives_is_away_while_it_is_replaced() -> None:
    assert shared(4, 30).stocked
    found = shared(4, 1.5 * 365)
    # 8,000 a year are lost without it, more than the 6,600 that it costs; but 0.3 / 1.3 of the demand finds it away.
    assert found.levels == HOLD_NONE
    pays = reason(found, "spare_pays_from_positions").values
    assert pays["share_away"] == pytest.approx(0.3 / 1.3)
    assert (pays["positions"], pays["positions_from"]) == (4, 5)
    assert pays["rate_from"] == pytest.approx(6600 / (40_000 - 1.5 * 6600))
    assert pays["price_up_to"] == "27972.03"
    assert shared(5, 1.5 * 365).stocked
    # At the break-even itself, 3.3 positions and a spare that is soon back, the costs are alike: the fourth decides.
    tie = reason(shared(3, 7), "spare_pays_from_positions").values
    assert (tie["positions_from"], shared(4, 7).stocked) == (4, True)
    assert "spare_never_pays" in codes(shared(4, 7 * 365))
    assert "spare_pays_from_positions" not in codes(shared(400, 30))
    insured = replace(SHARED["item"], holding_reason="insurance")
    assert "spare_pays_from_positions" in codes(shared(400, 30, item=insured))


def test_the_break_even_of_a_rare_part_is_named_however_far_it_is() -> None:
    # One request in five years loses 48,000; the spare of 38.50 is held for 7.70 a year and back after 45 days.
    pays = reason(
        advice(need(rate=0.2, positions=2, downtime=downtime("2000")), emergency_hours=24),
        "spare_pays_from_positions",
    ).values
    away = 0.2 * 45 / 365
    assert pays["price_up_to"] == f"{0.2 * 48_000 / (1 + away) / 0.2:.2f}"
    assert pays["rate_from"] == pytest.approx(7.70 / (48_000 - 7.70 * 45 / 365))
    assert (pays["positions"], pays["positions_from"]) == (2, 1)


def test_without_known_emergencies_a_spare_is_weighed_against_the_ordinary_order() -> None:
    insured = ItemDetails(stock_number="SPR-1", unit_cost=Decimal("1480"), holding_reason="insurance")
    found = advice(
        need(rate=0.07, positions=1, downtime=downtime("6200")), item=insured, lead_time=lead_time(98)
    )
    assert reason(found, "without_spare_waits_for_order").values == {"days": 98}
    pays = reason(found, "spare_pays_from_positions").values
    lost, holding = 98 * 24 * 6200, 0.2 * 1480
    assert pays["rate_from"] == pytest.approx(holding / (lost - holding * 98 / 365))
    assert float(pays["price_up_to"]) == pytest.approx(0.07 * lost / (1 + 0.07 * 98 / 365) / 0.2, abs=0.01)


def test_what_can_be_waited_for_names_its_break_even_too() -> None:
    waiting = targets(tolerable_wait_hours=48)
    found = advice(
        need(rate=0.2, positions=2, downtime=downtime("2000")), emergency_hours=24, targets=waiting
    )
    assert found.levels == HOLD_NONE
    assert "spare_pays_from_positions" in codes(found)


def test_a_tie_neither_buys_nor_sells() -> None:
    # 0.165 * 40,000 = 6,600.
    tie = {"rate": 0.165, "positions": 3, "downtime": downtime("1000")}
    given: dict[str, Any] = {
        "lead_time": lead_time(mean_days=7),
        "terms": Terms(holding_rate_per_year=0.22),
        **SHARED,
    }
    assert advice(need(**tie), **given).levels == HOLD_NONE
    assert "costs_alike" in codes(advice(need(**tie), **given))
    held = advice(need(**tie), today=PolicyLevels(True, 1, 2), **given)
    assert (held.levels, held.changed) == (PolicyLevels(True, 1, 2), False)
    assert advice(need(**tie, importance="vital"), **given).stocked
    # Four in a hundred more than the spare costs: a plant says how near is alike.
    near = tie | {"rate": 0.1723}
    assert "costs_alike" in codes(advice(need(**near), **given))
    assert advice(need(**near, tie_share=0.01), **given).stocked


AGING = GivenDemand(
    law_over=lambda mean, sd: [0.9, 0.1],
    rate_per_year=0.5,
    span=lambda days: fact("holds_until_review", review_days=365, from_day=200),
    long_run=GivenDemand(law_over=lambda mean, sd: [0.6, 0.3, 0.1], rate_per_year=4.0),
)


def test_what_is_promised_says_until_when_and_what_comes_after() -> None:
    found = advice(need(demand=AGING), today=HOLD_ONE)
    assert reason(found, "holds_until_review").values["from_day"] == 200
    assert (found.reorder_point, found.fill_rate) == (1, pytest.approx(1.0))
    later = reason(found, "expected_service_in_the_long_run").values
    assert later["fill_rate"] == pytest.approx(0.9)
    assert later["shortages_per_year"] == pytest.approx(0.4)


def test_costs_in_two_currencies_are_not_weighed() -> None:
    found = advice(need(rate=0.05, downtime=downtime("20", "USD")), item=DEAR, emergency_hours=24)
    assert found.stocked
    missing = fact("enter_downtime_cost", currency="EUR")
    assert reason(found, "costs_not_compared").values["missing"] == (missing,)


def test_least_cost_is_the_answer_where_it_is_the_target() -> None:
    least = targets(kind="cost")
    kept = advice(need(downtime=downtime()), targets=least, emergency_hours=24)
    assert (kept.stocked, kept.target_value) == (True, None)
    none = advice(need(rate=0.05, downtime=downtime("20")), targets=least, item=DEAR, emergency_hours=24)
    assert none.levels == HOLD_NONE
    unknown = advice(targets=least)
    assert not unknown.is_answered
    assert reason(unknown, "least_cost_not_known").values["missing"] == (
        fact("enter_downtime_cost", currency="EUR"),
        fact("enter_hours_to_expedite"),
    )
    assert "least_cost_with_stock" in codes(kept)
    assert "least_cost_without_stock" in codes(none)


def test_the_order_cost_sets_the_quantity_up_to_a_years_demand() -> None:
    dear = advice(terms=Terms(order_cost=Decimal("4")))
    # sqrt(2 * 4 * 4 / (38.5 * 0.2)) = 2.04
    assert dear.order_up_to - dear.reorder_point == 2
    capped = advice(terms=Terms(order_cost=Decimal("400")))
    assert capped.order_up_to - capped.reorder_point == 4
    assert (
        fact("order_quantity_of_a_year", order_cost="400", currency="EUR", quantity=4, cheapest_quantity=20)
        in capped.explanation
    )
    assert reason(dear, "order_quantity_of_least_cost").values["quantity"] == 2
    rare = advice(need(rate=0.4), terms=Terms(order_cost=Decimal("400")))
    assert rare.order_up_to - rare.reorder_point == 1


@pytest.mark.parametrize(
    ("item", "terms", "code"),
    [
        (UNPRICED, Terms(order_cost=Decimal("40")), "enter_unit_cost"),
        (PRICED, Terms(), "enter_order_cost"),
        (PRICED, Terms(order_cost=Decimal("40"), currency="USD"), "enter_order_cost"),
    ],
)
def test_without_prices_one_piece_is_ordered_with_the_reason(
    item: ItemDetails, terms: Terms, code: str
) -> None:
    found = advice(item=item, terms=terms)
    assert found.order_up_to - found.reorder_point == 1
    assert reason(found, "ordered_one_by_one").values["missing"].code == code


def test_without_a_price_no_money_is_named() -> None:
    found = advice(item=UNPRICED, today=PolicyLevels(True, 0, 1))
    assert (found.holding_cost_per_year, found.today["tied_up"]) == (None, None)
    assert "tied_up_not_known" in codes(found)
    assert not {"change_ties_up", "change_frees", "expected_cost"} & {*codes(found)}


CHAIN = GivenDemand(
    pmf_over=lambda days: [0.9] + [0.0] * 79 + [0.1], rate_per_year=80.0, piece_sizes=[0.0] * 80 + [1.0]
)
"""One strand of 80 links a year, all at once."""


def test_a_strand_that_is_short_stops_its_drive_once() -> None:
    links = ItemDetails(stock_number="CHN-1", unit_cost=Decimal("0.35"))
    found = advice(need(demand=CHAIN, downtime=downtime()), item=links, emergency_hours=24)
    # Once a year 24 hours at 420.
    assert reason(found, "stock_cheaper").values["cost_without_stock"] == "10080.00"
    waits = advice(need(demand=CHAIN), targets=targets(tolerable_wait_hours=48), emergency_hours=24)
    assert waits.expected_stockouts_per_year == pytest.approx(80)
    assert reason(waits, "bought_when_needed").values["shortages_per_year"] == pytest.approx(1)


def test_what_a_job_takes_is_ordered_together() -> None:
    found = advice(need(demand=CHAIN), item=UNPRICED)
    assert found.order_up_to - found.reorder_point == 80
    assert reason(found, "ordered_by_the_job").values["quantity"] == 80


def test_planned_pieces_are_named_beside_the_levels() -> None:
    found = advice(need(planned_per_year=2.0))
    assert found.levels == advice().levels
    assert reason(found, "planned_in_addition").values["planned_per_year"] == 2.0


@pytest.mark.parametrize(("order_up_to", "code"), [(1, "change_ties_up"), (9, "change_frees")])
def test_the_change_is_put_into_money(order_up_to: int, code: str) -> None:
    found = advice(today=PolicyLevels(True, 0, order_up_to))
    change = Decimal(found.evidence["figures"]["tied_up"]) - Decimal(found.today["tied_up"])
    assert reason(found, code).values["amount"] == str(abs(change))
    today = fact("levels", reorder_point=0, order_up_to=order_up_to)
    assert reason(found, "other_levels_today").values["levels"] == today
    assert reason(found, "service_today").values["fill_rate"] == found.today["fill_rate"]


def test_facts_are_plain_json() -> None:
    watched = need(notice=NOTICE, sudden_demand=PoissonDemand(1.0), downtime=downtime())
    found = advice(watched, emergency_hours=24)
    stored = json.loads(json.dumps([reason.as_json() for reason in found.explanation]))
    assert tuple(map(fact_from_json, stored)) == found.explanation


def test_the_hash_differs_for_every_input() -> None:
    variants = [
        advice(),
        advice(need(rate=5.0)),
        advice(need(evidence={"events": ["one more event"]})),
        advice(need(importance="desirable")),
        advice(need(downtime=downtime())),
        advice(lead_time=lead_time(sd_days=1)),
        advice(targets=targets(value=0.96)),
        advice(terms=Terms(planning_days=8)),
        advice(item=UNPRICED),
        advice(emergency_hours=24),
        advice(today=HOLD_ONE),
    ]
    assert len({one.inputs_hash for one in variants}) == len(variants)


def test_a_month_with_several_jobs_is_no_job_of_several_pieces() -> None:
    """19 jobs of one piece each, in 9 months: one more piece short is one more job that waits."""
    months = IntermittentDemand([0, 2, 3, 0, 1, 2, 0, 4, 0, 1, 0, 2, 1, 0, 3], 12.0)
    by_month, by_job = advice(need(demand=months)), advice(need(demand=months, pieces_per_job=1.0))
    assert {"ordered_by_the_job", "ordered_one_by_one"} & {*codes(by_month)} == {"ordered_by_the_job"}
    assert {"ordered_by_the_job", "ordered_one_by_one"} & {*codes(by_job)} == {"ordered_one_by_one"}
    told = reason(by_job, "expected_service").values
    assert told["shortages_per_year"] == pytest.approx(by_job.expected_stockouts_per_year)

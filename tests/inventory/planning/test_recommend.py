"""Reference figures: the stocking core, called by hand with the same numbers."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from inventory.planning.facts import HOLD_NONE, HOLD_ONE, ItemFacts, Levels
from inventory.planning.need import Need, WearNotice
from inventory.planning.terms import Terms
from inventory.stocking.demand_models import GivenDemand, PoissonDemand
from inventory.stocking.evaluate import evaluate
from inventory.stocking.lead_time_demand import poisson
from inventory.stocking.service_levels import ServiceProfile
from inventory.stocking.targets import ServiceLevelTarget
from tests.inventory.planning.cases import (
    PRICED,
    UNPRICED,
    KnownLeadTime,
    advice,
    downtime,
    need,
    said,
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
    assert advice() == advice()


def test_today_is_measured_with_the_same_demand_and_lead_time() -> None:
    found = advice(today=Levels(True, 0, 3))
    unfilled = ServiceProfile(poisson(MEAN), 3).unfilled[1]
    assert found.today["fill_rate"] == pytest.approx(1 - unfilled, abs=1e-12)
    assert found.today["expected_stockouts_per_year"] == pytest.approx(4 * unfilled, abs=1e-11)
    assert (found.today["order_up_to"], found.changed) == (3, True)


def test_the_advice_in_force_changes_nothing() -> None:
    found = advice(today=advice().levels)
    assert not found.changed
    assert found.today["fill_rate"] == found.fill_rate
    assert "That is what is set today." in found.explanation


def test_nothing_kept_and_nothing_set_is_no_change() -> None:
    assert not advice(facts=replace(PRICED, lifecycle="blocked")).changed
    assert advice(facts=replace(PRICED, lifecycle="blocked"), today=HOLD_ONE).changed


def test_sentences_come_in_the_order_of_the_questions() -> None:
    found = advice(need(cover_explanation=("SPR-9 stands in after boring.",)))
    text = said(found)
    order = [
        "4 a year are asked for",
        "From order to shelf it takes 45 days",
        "Whether keeping pays",
        "fill rate of 95 %",
        "order when on hand",
        "runs out about once in",
        "Nothing is set today",
        "SPR-9 stands in",
    ]
    places = [text.index(part) for part in order]
    assert places == sorted(places)


def test_a_start_value_is_called_one() -> None:
    assert "(start value, common practice, no source)" in said(advice())
    assert "start value" not in said(advice(targets=targets(), terms=Terms(are_start_values=False)))


def test_without_a_lead_time_it_is_not_answerable() -> None:
    found = advice(lead_time=None, today=Levels(True, 2, 4))
    assert (found.is_answered, found.changed, found.levels) == (False, False, Levels(True, 2, 4))
    assert "enter lead_time_days of SPR-1" in said(found)
    assert (found.lead_time_days, found.fill_rate, found.expected_stockouts_per_year) == (None, None, None)
    assert advice(lead_time=None).levels == HOLD_NONE


@pytest.mark.parametrize(
    ("one", "lead_time"),
    [
        (need(), KnownLeadTime(mean_days=4000)),
        (need(), KnownLeadTime(mean_days=0)),
        (need(demand=GivenDemand(pmf=[0.5, 0.5])), KnownLeadTime(sd_days=9)),
        (need(rate=1e6), KnownLeadTime(mean_days=3650)),
    ],
)
def test_what_cannot_be_worked_out_is_said_and_stops_nothing(one: Need, lead_time: KnownLeadTime) -> None:
    found = advice(one, lead_time=lead_time, today=Levels(True, 1, 2))
    assert (found.is_answered, found.changed, found.levels) == (False, False, Levels(True, 1, 2))
    assert "It cannot be worked out" in said(found)


def test_the_same_part_kept_under_another_number_is_bought_no_more() -> None:
    found = advice(need(kept_as_id=7), kept_as="SPR-7", today=Levels(True, 1, 2))
    assert (found.levels, found.is_answered) == (HOLD_NONE, True)
    assert "The same part is kept as SPR-7; use these up first." in found.explanation
    assert found.review_after_days == 180
    assert (found.fill_rate, found.expected_stockouts_per_year) == (None, None)
    assert "is bought when it is asked for" not in said(found)


@pytest.mark.parametrize(("lifecycle", "words"), [("run_down", "run down"), ("blocked", "is blocked")])
def test_a_lifecycle_that_ends_buys_none(lifecycle: str, words: str) -> None:
    found = advice(facts=replace(PRICED, lifecycle=lifecycle))
    assert found.levels == HOLD_NONE
    assert words in said(found)


def test_a_lifecycle_that_ends_names_the_insurance_it_ends() -> None:
    found = advice(facts=replace(PRICED, lifecycle="run_down", holding_reason="insurance"))
    assert "A person decided to keep it as insurance" in said(found)


def test_insurance_keeps_one_against_the_numbers() -> None:
    waits = targets(tolerable_wait_hours=48)
    insured = replace(PRICED, holding_reason="insurance")
    found = advice(facts=insured, targets=waits, emergency_hours=24)
    assert found.levels == HOLD_ONE
    assert "kept as insurance by a person's decision" in said(found)
    assert "By the numbers alone: A stop of 48 hours is put up with" in said(found)
    assert advice(targets=waits, emergency_hours=24).levels == HOLD_NONE


def test_insurance_without_a_lead_time_keeps_what_is_set() -> None:
    insured = replace(PRICED, holding_reason="insurance")
    assert advice(facts=insured, lead_time=None).levels == HOLD_ONE
    found = advice(facts=insured, lead_time=None, today=Levels(True, 1, 2))
    assert (found.levels, found.changed) == (Levels(True, 1, 2), False)
    assert "enter lead_time_days" in said(found)


def test_insurance_that_nothing_asks_for_stays() -> None:
    insured = replace(PRICED, holding_reason="insurance")
    asked_never = need(demand=None, rate_per_year=0.0, model="none")
    alone = advice(asked_never, facts=insured, lead_time=None)
    assert (alone.levels, alone.is_answered) == (HOLD_ONE, True)
    assert "By the numbers alone: Nothing was ever asked for" in said(alone)
    assert advice(asked_never, facts=insured).levels == HOLD_ONE
    assert advice(asked_never, facts=insured, today=Levels(True, 1, 2)).levels == Levels(True, 1, 2)
    assert advice(asked_never).levels == HOLD_NONE


NOTICE = WearNotice(wear_share=0.75, notice_days=120, order_by=(("STEEP-EL1-P1", "2026-04-02"),))


def test_wear_seen_in_time_leaves_the_sudden_rest_to_the_shelf() -> None:
    one = need(notice=NOTICE, sudden_demand=PoissonDemand(1.0))
    found = advice(one, lead_time=KnownLeadTime(sd_days=15))
    alone = advice(need(rate=1.0), lead_time=KnownLeadTime(sd_days=15))
    assert (found.levels, found.fill_rate) == (alone.levels, alone.fill_rate)
    assert found.levels != advice(lead_time=KnownLeadTime(sd_days=15)).levels
    assert "Order for STEEP-EL1-P1 by 2026-04-02." in found.explanation


@pytest.mark.parametrize(("sd_days", "planning_days"), [(45.0, 7.0), (15.0, 60.0)])
def test_notice_shorter_than_a_late_delivery_is_no_help(sd_days: float, planning_days: float) -> None:
    one = need(notice=NOTICE, sudden_demand=PoissonDemand(1.0))
    found = advice(one, lead_time=KnownLeadTime(sd_days=sd_days), terms=Terms(planning_days=planning_days))
    assert found.levels == advice(lead_time=KnownLeadTime(sd_days=sd_days)).levels
    assert "that is too short" in said(found)
    assert "Order for STEEP-EL1-P1" not in said(found)


def test_wear_alone_needs_no_shelf() -> None:
    found = advice(need(notice=NOTICE, sudden_demand=PoissonDemand(0.0)))
    assert found.levels == HOLD_NONE
    assert "Nothing is expected to be asked for from the shelf" in said(found)


@pytest.mark.parametrize(
    ("hours", "levels"), [(24.0, HOLD_NONE), (48.0, HOLD_NONE), (49.0, None), (None, None)]
)
def test_a_wait_that_is_put_up_with_needs_no_shelf(hours: float | None, levels: Any) -> None:
    found = advice(targets=targets(tolerable_wait_hours=48), emergency_hours=hours)
    assert found.levels == (levels or advice().levels)
    assert "A stop of 48 hours is put up with" in said(found)
    if hours:
        assert f"takes {hours:g} hours (from 3 emergency buys of this item)" in said(found)


def test_the_terms_name_the_hours_before_past_emergencies_do() -> None:
    terms = Terms(hours_to_expedite=72)
    found = advice(targets=targets(tolerable_wait_hours=48), emergency_hours=24, terms=terms)
    assert found.stocked


DEAR = ItemFacts(stock_number="SPR-1", unit_cost=Decimal("6000"))


def test_a_dear_part_that_rarely_stops_much_is_not_kept() -> None:
    rare = need(rate=0.05, downtime=downtime("20"))
    found = advice(rare, facts=DEAR, emergency_hours=24)
    assert found.levels == HOLD_NONE
    assert "Keeping none is cheaper: with a stock 1,193 EUR a year" in said(found)
    assert "without 24 EUR" in said(found)


def test_a_vital_part_is_kept_although_none_is_cheaper() -> None:
    rare = need(rate=0.05, downtime=downtime("20"), importance="vital")
    found = advice(rare, facts=DEAR, emergency_hours=24)
    assert found.stocked
    assert "but the part is vital: it is kept" in said(found)


def test_costs_in_two_currencies_are_not_weighed() -> None:
    found = advice(need(rate=0.05, downtime=downtime("20", "USD")), facts=DEAR, emergency_hours=24)
    assert found.stocked
    assert "enter downtime_cost_per_hour of its drives, in EUR" in said(found)


def test_least_cost_is_the_answer_where_it_is_the_target() -> None:
    least = targets(kind="cost")
    kept = advice(need(downtime=downtime()), targets=least, emergency_hours=24)
    assert (kept.stocked, kept.target_value) == (True, None)
    none = advice(need(rate=0.05, downtime=downtime("20")), targets=least, facts=DEAR, emergency_hours=24)
    assert none.levels == HOLD_NONE
    unknown = advice(targets=least)
    assert not unknown.is_answered
    assert "hours_to_expedite in the stocking terms" in said(unknown)


def test_the_order_cost_sets_the_quantity_up_to_a_years_demand() -> None:
    dear = advice(terms=Terms(order_cost=Decimal("4")))
    # sqrt(2 * 4 * 4 / (38.5 * 0.2)) = 2.04
    assert dear.order_up_to - dear.reorder_point == 2
    capped = advice(terms=Terms(order_cost=Decimal("400")))
    assert capped.order_up_to - capped.reorder_point == 4
    assert "20 would be cheapest, but that is more than a year's demand" in said(capped)
    rare = advice(need(rate=0.4), terms=Terms(order_cost=Decimal("400")))
    assert rare.order_up_to - rare.reorder_point == 1


@pytest.mark.parametrize(
    ("facts", "terms", "missing"),
    [
        (UNPRICED, Terms(order_cost=Decimal("40")), "unit_cost is not known"),
        (PRICED, Terms(), "order_cost in EUR is not known"),
        (PRICED, Terms(order_cost=Decimal("40"), currency="USD"), "order_cost in EUR is not known"),
    ],
)
def test_without_prices_one_piece_is_ordered_and_that_is_said(
    facts: ItemFacts, terms: Terms, missing: str
) -> None:
    found = advice(facts=facts, terms=terms)
    assert found.order_up_to - found.reorder_point == 1
    assert missing in said(found)


def test_without_a_price_no_money_is_named() -> None:
    found = advice(facts=UNPRICED, today=Levels(True, 0, 1))
    assert (found.holding_cost_per_year, found.today["tied_up"]) == (None, None)
    assert "what it ties up is not known" in said(found)


CHAIN = GivenDemand(
    pmf_over=lambda days: [0.9] + [0.0] * 79 + [0.1], rate_per_year=80.0, piece_sizes=[0.0] * 80 + [1.0]
)
"""One strand of 80 links a year, all at once."""


def test_a_strand_that_is_short_stops_its_drive_once() -> None:
    links = ItemFacts(stock_number="CHN-1", unit_cost=Decimal("0.35"))
    found = advice(need(demand=CHAIN, downtime=downtime()), facts=links, emergency_hours=24)
    assert "without 10,080 EUR" in said(found)  # once a year 24 hours at 420
    waits = advice(need(demand=CHAIN), targets=targets(tolerable_wait_hours=48), emergency_hours=24)
    assert waits.expected_stockouts_per_year == pytest.approx(80)
    assert "bought when it is asked for, about once a year" in said(waits)


def test_what_a_job_takes_is_ordered_together() -> None:
    found = advice(need(demand=CHAIN), facts=UNPRICED)
    assert found.order_up_to - found.reorder_point == 80
    assert "Orders are for what one job takes, about 80, at a time" in said(found)


def test_planned_pieces_are_told_beside_the_levels() -> None:
    found = advice(need(planned_per_year=2.0))
    assert found.levels == advice().levels
    assert "Beside it 2 a year are planned" in said(found)


def test_the_hash_tells_every_input_apart() -> None:
    variants = [
        advice(),
        advice(need(rate=5.0)),
        advice(need(inputs=(4.0, "one more event"))),
        advice(need(importance="desirable")),
        advice(need(downtime=downtime())),
        advice(lead_time=KnownLeadTime(sd_days=1)),
        advice(targets=targets(value=0.96)),
        advice(terms=Terms(planning_days=8)),
        advice(facts=UNPRICED),
        advice(emergency_hours=24),
        advice(today=HOLD_ONE),
    ]
    assert len({one.inputs_hash for one in variants}) == len(variants)

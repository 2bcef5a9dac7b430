from typing import Any

import pytest

from api.wording import planning
from api.wording.sentences import sentence, stored_sentences, with_explanations
from inventory.facts import Fact, fact
from inventory.planning.policy_inputs import ItemDetails, OrderDate, PolicyLevels, WearNotice
from inventory.planning.terms import Terms
from inventory.stocking.demand_models import GivenDemand, PoissonDemand
from tests.inventory.planning.cases import PRICED, UNPRICED, advice, downtime, lead_time, need, targets

BASIS = fact("emergency_orders_of_item", orders=3)
COSTS = {
    "cost_with_stock": "1192.77",
    "cost_without_stock": "24.00",
    "currency": "EUR",
    "hours_to_expedite": 24.0,
    "basis": BASIS,
}


RECORDED_STOPS = {
    "stops": 345,
    "since": "2016-11-22",
    "until": "2026-11-28",
    "cost_of_recorded_stops": "735392.30",
    "currency": "EUR",
}


def text_of(one: Any) -> str:
    return " ".join(map(sentence, one.explanation))


@pytest.mark.parametrize(
    ("given", "text"),
    [
        (fact("lead_time_without_spread", mean_days=45.0), "Lead time 45 days."),
        (
            fact("lead_time_with_spread", mean_days=25.71, sd_days=8.354),
            "Lead time 25.7 days (standard deviation 8.35 days).",
        ),
        (
            fact("lead_time_from_orders_here", orders=4),
            "From 4 orders of this item for this storeroom.",
        ),
        (
            fact("lead_time_from_orders_everywhere", orders=3, orders_here=1),
            "From 3 orders of this item for all storerooms (for this storeroom alone: 1).",
        ),
        (
            fact("lead_time_borrowed", orders=3),
            "Borrowed from 3 orders of other items: enter the lead time.",
        ),
        (
            fact("without_spare_waits_for_order", days=98.0),
            "No emergency delivery of it is known: without a spare a stop waits for an ordinary order, 98 days.",
        ),
        (
            fact("short_chain_not_counted"),
            "Chain counts by the jobs of the length that nine in ten jobs need. A piece that is only long enough for a shorter"
            " job counts as none, so chain may cost less than is shown here.",
        ),
        (
            fact("downtime_of_a_year", cost="1219094.41", cost_without_stock="876696.59", currency="EUR"),
            "A year with today's stock is expected to cost 1,219,094 EUR. 876,697 of it is for parts of which nothing is in"
            " stock or on order.",
        ),
        (
            fact("more_stops_than_recorded", cost_not_seen="483702.11", **RECORDED_STOPS),
            "The 345 stops on record (22 Nov 2016 to 28 Nov 2026) would cost 735,392 EUR a year with today's stock. The other"
            " 483,702 are for stops that may come first: units that age, and parts whose kind failed elsewhere.",
        ),
        (
            fact("fewer_stops_than_recorded", cost_too_much="12000", **RECORDED_STOPS),
            "The 345 stops on record (22 Nov 2016 to 28 Nov 2026) would cost 735,392 EUR a year with today's stock, 12,000 more:"
            " fewer stops are expected than were recorded.",
        ),
        (
            fact("waits_on_record", waits=43, cost="515697.33", currency="EUR"),
            "43 stops on record waited for a part that was not there, from the request to the issue. That cost 515,697 EUR a"
            " year. The stock was another one then, and a part that was issued without a request shows no wait.",
        ),
        (
            fact("recorded_waits_without_end", waits=1),
            "1 of these waits counts no hours: the issue of its part is not on record.",
        ),
        (
            fact("recorded_waits_without_price", waits=7),
            "7 of these waits count no money: their drives have no price of an hour in this currency.",
        ),
        (BASIS, "from 3 emergency orders of this item"),
        (fact("emergency_orders_of_all", orders=1), "from 1 emergency order of all items"),
        (
            fact(
                "expedited_in_tolerable_wait",
                importance="essential",
                tolerable_wait_hours=48,
                hours_to_expedite=24.0,
                basis=BASIS,
            ),
            "A stop of 48 hours is acceptable for essential parts, and an emergency order takes 24 hours"
            " (from 3 emergency orders of this item): keep none.",
        ),
        (
            fact("none_cheaper", **COSTS),
            "Keeping none is cheaper: with stock 1,193 EUR a year for holding, orders and downtime, without stock"
            " 24 EUR (an emergency order takes 24 hours, from 3 emergency orders of this item).",
        ),
        (
            fact("kept_in_storeroom", storeroom="OM-MAIN", minutes=6),
            "Storeroom OM-MAIN, 6 minutes away, keeps it for this one too: buy none here. The stock here counts there.",
        ),
        (
            fact(
                "kept_for_storeroom",
                storeroom="OM-KILN",
                minutes=6,
                fetching_cost="12.25",
                holding_cost="1296.00",
                currency="EUR",
            ),
            "Kept here for storeroom OM-KILN too, 6 minutes away: fetching it from here costs 12 EUR of downtime a"
            " year, a piece of its own there 1,296 EUR for holding. The stock there counts here.",
        ),
        (
            fact("kept_for_storeroom_without_demand", storeroom="OM-KILN", minutes=6),
            "Storeroom OM-KILN, 6 minutes away, has no demand of its own: its stock counts here.",
        ),
        (
            fact("lies_in_storeroom", pieces=2, storeroom="OM-KILN", minutes=6),
            "2 of them in storeroom OM-KILN, 6 minutes away.",
        ),
        (
            fact("counted_with_storeroom", storeroom="OM-KILN", reorder_point=0, order_up_to=1),
            "Stock in storeroom OM-KILN counts here: its own policy (0/1) needs a decision.",
        ),
        (
            fact(
                "least_cost_not_known",
                missing=(fact("enter_unit_cost", stock_number="SPR-1"), fact("enter_hours_to_expedite")),
            ),
            "The target is least cost, and it cannot be calculated: enter the price of SPR-1 and"
            " the hours of an emergency delivery in the stocking terms.",
        ),
        (
            fact("by_numbers_alone", finding=fact("no_unplanned_demand")),
            "By the numbers alone: There were no unplanned requests, and no position served from here is known to need it: keep none.",
        ),
        (
            fact("service_target", importance="vital", kind="cycle_service_level", target=0.99),
            "The target for vital parts is a cycle service level of 99 %: the chance that the demand over a lead"
            " time does not exceed the reorder point.",
        ),
        (
            fact(
                "order_quantity_of_a_year",
                order_cost="400",
                currency="EUR",
                quantity=4,
                cheapest_quantity=20,
            ),
            "An order costs 400 EUR: 20 at a time would be cheapest, but that is more than a year's demand, so 4"
            " are ordered.",
        ),
        (
            fact("expected_service", shortages_per_year=0.11, fill_rate=0.99999),
            "It then runs out about once in 9.1 years, and 99.999 % of the demand is met from stock.",
        ),
        (
            fact("bought_when_needed", shortages_per_year=1.0),
            "It is bought when it is needed, about once a year.",
        ),
        (
            fact("expected_cost", tied_up="340.20", holding_cost_per_year="7.20", currency="EUR"),
            "The stock ties up 340 EUR on average and costs 7.20 EUR a year to hold.",
        ),
        (
            fact("other_levels_today", levels=fact("levels", reorder_point=0, order_up_to=3)),
            "Today's levels: order at 0 up to 3.",
        ),
        (
            fact("input_changed", input="rate_per_year", before=4.0, after=1234.5),
            "Demand a year changed from 4 to 1,230.",
        ),
        (
            fact("input_changed", input="lead_time_days", before=None, after=45.0),
            "Mean lead time in days changed from not recorded to 45.",
        ),
        (
            fact(
                "input_changed",
                input="target",
                before=fact("target_input", kind="fill_rate", target=0.95, tolerable_wait_hours=None),
                after=fact("target_input", kind="cost", target=None, tolerable_wait_hours=48.0),
            ),
            "Target changed from fill rate 95 % to least cost, acceptable stop 48 h.",
        ),
        (
            fact(
                "input_changed",
                input="unit_cost",
                before=fact("amount_input", amount="38.50", currency="EUR"),
                after=fact("amount_input", amount="41.00", currency="EUR"),
            ),
            "Price changed from 38.50 EUR to 41.00 EUR.",
        ),
        (
            fact("input_changed", input="policy", before=fact("levels_not_set"), after=fact("levels_none")),
            "Policy in force changed from nothing set to none held.",
        ),
        (
            fact("ordered_after_return", pieces=2, back_on="2026-03-05"),
            "Lent out and expected back by 5 Mar 2026: 2. Nothing is ordered until then.",
        ),
        (
            fact("recommendation_already_decided", decided_by="Marta Keller", state="declined"),
            "Marta Keller has already decided it: it is declined. It opens again when its inputs change.",
        ),
        (
            fact("run_under_way", run=1234, started_by="Ines Okafor"),
            "Run 1234, started by Ines Okafor, is under way: wait for it to end, then start again.",
        ),
        (fact("order_up_to_too_high", limit=1_000_000), "It must be at most 1,000,000."),
        (
            fact("input_changed", input="model", before="none", after="gamma_poisson"),
            "Demand model changed from none to gamma poisson.",
        ),
        (
            fact("input_changed", input="kept_as", before=None, after="SPR_7"),
            "Stock number that it is kept under changed from not recorded to SPR_7.",
        ),
        (fact("input_changed_in_part", input="terms"), "Set of stocking terms changed."),
    ],
)
def test_a_sentence_reads_as_it_should(given: Fact, text: str) -> None:
    assert sentence(given) == text


CHAIN = GivenDemand(
    pmf_over=lambda days: [0.9] + [0.0] * 79 + [0.1], rate_per_year=80.0, piece_sizes=[0.0] * 80 + [1.0]
)
AGING = GivenDemand(
    law_over=lambda mean, sd: [0.9, 0.1],
    rate_per_year=0.5,
    span=lambda days: fact(
        "holds_until_review",
        review_days=365,
        from_day=200,
        pieces_then=0.4321,
        pieces_now=0.01,
        pieces_in_the_long_run=0.5,
    ),
    long_run=GivenDemand(law_over=lambda mean, sd: [0.6, 0.3, 0.1], rate_per_year=4.0),
)
NOTICE = WearNotice(
    wear_share=0.75, notice_days=120, order_by=(OrderDate("2026-04-02", "STEEP-EL1-P1", 0.1),)
)


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (advice(), "(start value, common practice, no source)"),
        (advice(lead_time=None), "enter the lead time of SPR-1, or its orders and receipts"),
        (advice(lead_time=lead_time(mean_days=4000)), "It cannot be calculated: lead_time_days must be"),
        (advice(need(kept_as_id=7), kept_as="SPR-7"), "The same part is kept as SPR-7: use these up first."),
        (advice(item=ItemDetails(stock_number="SPR-1", lifecycle="blocked")), "SPR-1 is blocked: buy none."),
        (
            advice(item=ItemDetails(stock_number="SPR-1", lifecycle="run_down", holding_reason="insurance")),
            "A person decided to keep it as insurance: check first that nothing is left uninsured.",
        ),
        (advice(item=UNPRICED), "How much money it ties up is not known: enter the price of SPR-1."),
        (advice(need(demand=CHAIN), item=UNPRICED), "Ordered by the job, about 80 at a time"),
        (advice(need(planned_per_year=2.0)), "Another 2 a year are planned"),
        (
            advice(need(notice=NOTICE, sudden_demand=PoissonDemand(1.0))),
            "Inspections show 75 % of the demand 120 days ahead, and an order takes up to 45 days, and 7 days to send",
        ),
        (
            advice(need(notice=NOTICE, sudden_demand=PoissonDemand(1.0)), terms=Terms(planning_days=90)),
            "That is too short",
        ),
        (
            advice(need(notice=NOTICE, sudden_demand=PoissonDemand(1.0))),
            "Order for STEEP-EL1-P1 by 2 Apr 2026: with an order on that day the chance is 10 % that the wear limit comes before the"
            " delivery.",
        ),
        (advice(), "The rate is taken as constant, so what is said for a year holds for every year."),
        (advice(today=PolicyLevels(True, 0, 3)), "Today's levels: order at 0 up to 3."),
        (
            advice(need(demand=AGING)),
            "the busiest lead time before it, which begins in 200 days and needs 0.432 pieces",
        ),
        (
            advice(need(demand=AGING)),
            "With the same levels it would in the long run, after that review, run out",
        ),
        (
            advice(need(rate=0.2, positions=4, downtime=downtime("10")), item=PRICED, emergency_hours=2),
            "One pays from 9 positions like these (4 positions today), from 0.404",
        ),
        (
            advice(need(rate=0.2, downtime=downtime("10")), item=PRICED, emergency_hours=2),
            "One pays from 0.404 requests a year",
        ),
        (
            advice(need(rate=0.2, downtime=downtime("1")), item=PRICED, emergency_hours=0.5),
            "it pays at no rate, only up to a price of",
        ),
        (
            advice(need(rate=0.385, positions=4, downtime=downtime("10")), item=PRICED, emergency_hours=2),
            "Keeping stock costs about as much as keeping none",
        ),
        (advice(targets=targets(kind="cost")), "the hours of an emergency delivery in the stocking terms"),
        (
            advice(
                need(rate=0.05, downtime=downtime("20"), importance="vital"), item=PRICED, emergency_hours=2
            ),
            "But the part is vital, so it is kept.",
        ),
    ],
)
def test_an_explanation_says_it(found: Any, words: str) -> None:
    assert words in text_of(found)


def test_json_gains_the_sentence_beside_each_fact() -> None:
    stored = {"basis": "own", "reasons": [fact("lead_time_from_orders_here", orders=4).as_json()]}
    (reason,) = with_explanations(stored)["reasons"]
    assert reason["explanation"] == "From 4 orders of this item for this storeroom."
    assert (reason["code"], reason["values"]) == ("lead_time_from_orders_here", {"orders": 4})
    assert stored_sentences(stored["reasons"]) == [reason["explanation"]]  # type: ignore[arg-type]


def test_remnants_of_chain_are_named_to_be_used_up() -> None:
    values = {"pieces": 19, "links": 1202, "longest_links": 78, "shortest_job_links": 82}
    assert sentence(fact("chain_remnants", **values)) == (
        "19 pieces, 1,202 links in all, the longest 78, are shorter than any job on record (82 links): use them up or scrap them first."
    )


def test_no_sentence_is_quaint() -> None:
    shown = " ".join(str(one) for one in planning.SENTENCES.values() if not callable(one)).lower()
    for word in ("asked for", "put up with", "give or take", "worked out", "anew", "told", "buys"):
        assert word not in shown

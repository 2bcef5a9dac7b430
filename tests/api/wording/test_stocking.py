import pytest

from api.wording.sentences import sentence
from api.wording.stocking import SENTENCES
from inventory.facts import fact
from inventory.stocking.demand_models import METHODS

AGES = {
    "hours_per_year": 6000.0,
    "shape": 2.5,
    "scale_hours": 12_000.0,
    "mean_life_hours": 10_647.4,
    "pieces_next_year": 1.9044,
    "pieces_per_year_long_run": 2.2541,
}
PROMISE = {"promised": 0.95, "achieved": 0.9388, "low": 0.93, "high": 0.9466}
ORIGINS = {"worst_origin": 0.9, "best_origin": 0.97}
COUNTED = {
    "planned_requests_left_out": {},
    "chain_requests_left_out": {},
    "requests_without_item_left_out": {},
    "requests_before_record_left_out": {},
    "items_of_short_records_left_out": {},
    "requests_this_month_left_out": {},
    "large_demands_left_out": {"limit": 1000},
    "items_without_price": {"currency": "EUR"},
    "no_item_priced": {},
    "incomplete_rows_left_out": {},
}
CASES = [
    (
        fact("demand_poisson", rate_per_year=4.0),
        "Single pieces are requested at a constant rate of 4 a year (Poisson).",
    ),
    (
        fact(
            "demand_gamma_poisson",
            events=2.0,
            exposure_years=3.0,
            prior_events=0.8,
            prior_exposure_years=5.0,
            rate_per_year=0.35,
        ),
        "2 requests in 3 years and a prior worth 0.8 in 5 years give 0.35 pieces a year. The uncertainty of this rate is"
        " included (gamma-Poisson).",
    ),
    (
        fact(
            "demand_intermittent",
            periods_with_demand=6,
            periods=16,
            demand_class="lumpy",
            interval_periods=16 / 6,
            size_cv2=0.7024,
            method="sba",
            rate_per_year=15234.5,
        ),
        "6 of 16 periods had a demand (lumpy: mean interval 2.67 periods, squared variation of sizes 0.702). The method of"
        " Syntetos and Boylan (SBA) forecasts 15,230 pieces a year.",
    ),
    (fact("no_demand_in_record", periods=12), "In 12 periods there was no demand."),
    (fact("no_demand_in_record", periods=1), "In 1 period there was no demand."),
    (
        fact("demand_from_unit_ages", units=4, youngest_hours=0.0, oldest_hours=11_000.0, **AGES),
        "4 units, in service for 0 to 11,000 h, running 6,000 h a year. Their lives are Weibull (shape 2.5, scale 12,000 h,"
        " mean 10,647 h). Each unit may fail within the lead time, and its replacement again: 1.904 pieces are expected in the"
        " coming year, 2.254 a year in the long run.",
    ),
    (
        fact("demand_compound", jobs_per_year=1.2, jobs=3, least=1, most=4, rate_per_year=2.8),
        "1.2 jobs a year, each taking pieces as one of the 3 jobs on record did (1 to 4): 2.8 pieces a year. That both rest on"
        " so few jobs is included.",
    ),
    (
        fact("spread_few_and_large", periods_without=111, expected_without=76.4, p_value=1.23e-12),
        "Demands are few and large: 111 periods had none, where the usual distribution (negative binomial) expects 76.4"
        " (p = 1.2e-12). So demands come one by one at an uncertain rate, each as large as one on record (compound Poisson).",
    ),
    (
        fact("spread_negative_binomial", periods_without=10, expected_without=9.61, p_value=0.523),
        "The record supports the usual distribution of pieces (negative binomial): 10 periods had none, 9.61 are expected"
        " (p = 0.52).",
    ),
    (
        fact("holds_for_first_lead_time", lead_time_days=45.0),
        "This holds for the lead time of 45 days that begins now: units age, and later ones differ. Give horizon_days for an"
        " answer that holds longer.",
    ),
    (
        fact(
            "holds_within_horizon",
            horizon_days=365.0,
            from_day=200,
            pieces_then=0.4321,
            pieces_now=0.012,
            pieces_in_the_long_run=0.3,
        ),
        "This holds for every lead time that begins within 365 days: it is for the busiest one, which begins in 200 days and"
        " needs 0.432 pieces on average. The one that begins now needs 0.012, one in the long run 0.3.",
    ),
    (
        fact("single_spare_break_even", share_away=0.2307, price_up_to=27972.03, rate_from=0.2193),
        "While a single spare is on order, 23.1 % of the demand finds it away: one pays up to a price of 27,972.03, or from 0.219"
        " requests a year.",
    ),
    (
        fact(
            "levels_kept_promise", levels="recommended", parts=2, requests=300, **PROMISE | {"promised": 0.94}
        ),
        "Over the 300 requests of the record the levels recommended for 2 parts would have met 93.88 % from the shelf (likely"
        " 93 % to 94.66 %), and promised 94 %: the promise holds, within what chance explains.",
    ),
    (
        fact("levels_missed_promise", levels="in_force", parts=1, requests=300, **PROMISE),
        "Over the 300 requests of the record the level in force for 1 part would have met 93.88 % from the shelf (likely 93 %"
        " to 94.66 %), and promised 95 %: expect 93.88 %.",
    ),
    (
        fact(
            "levels_exceeded_promise", levels="in_force", parts=2, requests=300, **PROMISE | {"promised": 0.9}
        ),
        "Over the 300 requests of the record the levels in force for 2 parts would have met 93.88 % from the shelf (likely"
        " 93 % to 94.66 %), more than the 90 % promised: they are on the safe side.",
    ),
    (fact("demand_given"), "The distribution of the demand was given."),
    (
        fact("lead_time_fixed", lead_time_days=45.0, expected_pieces=0.49315, chance_of_none=0.61070),
        "Over a lead time of 45 days 0.493 pieces are expected; the chance of none is 61.1 %.",
    ),
    (
        fact(
            "lead_time_varies",
            lead_time_days=1.5,
            lead_time_sd_days=0.75,
            expected_pieces=3.0,
            chance_of_none=0.1066,
        ),
        "Over a lead time of 1.5 days (standard deviation 0.75 days; gamma, orders do not cross) 3 pieces are expected; the"
        " chance of none is 10.7 %.",
    ),
    (
        fact("service_reached", service="cycle_service_level", target=0.98, achieved=0.98612),
        "Target: cycle service level 98 %, the chance that the demand over a lead time does not exceed the reorder point. The"
        " smallest stock that reaches it gives 98.6 %.",
    ),
    (
        fact("service_reached_without_stock", service="no_backorder", target=0.95, achieved=0.99181),
        "Target: no backorder 95 %, the chance that the demand over a lead time does not exceed the order-up-to level. Without"
        " any stock it is 99.2 %.",
    ),
    (
        fact("stock_costs_less", cost_with_stock=418.128, cost_without_stock=16160.0),
        "Keeping stock costs 418.13 a year with downtime and orders, keeping none 16,160.00.",
    ),
    (
        fact("no_stock_costs_less", cost_with_stock=6543.64, cost_without_stock=2000.0),
        "Keeping none costs 2,000.00 a year in downtime and orders, the cheapest stock 6,543.64.",
    ),
    (
        fact("order_at_reorder_point", reorder_point=2, order_up_to=1003),
        "Order when on hand + on order - reserved falls to 2, up to 1,003.",
    ),
    (
        fact("keep_none"),
        "Keep none. Order when a piece is requested, and check again when the demand or the lead time changes.",
    ),
    (fact("no_demand_expected"), "No demand is expected."),
    (
        fact("shortages_each_year", fill_rate=0.9, pieces_per_year=2.345),
        "90 % of the demand is met from the shelf; 2.35 pieces a year are missing when they are requested.",
    ),
    (
        fact("shortage_once_in_years", fill_rate=0.98612, once_in_years=18.02),
        "98.6 % of the demand is met from the shelf; a piece is missing about once in 18 years.",
    ),
    (
        fact("shortage_very_rare", fill_rate=0.9999987, once_in_more_than_years=1000.0),
        "99.9999 % of the demand is met from the shelf; a piece is missing less than once in 1,000 years.",
    ),
    (
        fact("chances_cut_short", listed=2000, chance_of_more=0.98765),
        "lead_time_demand lists the first 2,000 chances; the chance of more pieces is 0.988.",
    ),
    (
        fact("backtest_scope", items=12, periods=36, origins=4, exposure_periods=3, windows=1048),
        "12 items over 36 periods: on 4 dates each rule predicted the next 3 periods, from earlier data only. 1,048 windows do"
        " not overlap.",
    ),
    (
        fact("backtest_scope", items=1, periods=1, origins=1, exposure_periods=1, windows=1),
        "1 item over 1 period: on 1 date each rule predicted the next period, from earlier data only. 1 window does not overlap.",
    ),
    (
        fact("promise_kept", **PROMISE | ORIGINS),
        "Promised 95 %, the recommended rule achieved 93.88 % (likely 93 % to 94.66 %): the promise was kept, within what chance"
        " explains. On single dates it was 90 % to 97 %.",
    ),
    (
        fact("promise_missed", **PROMISE | ORIGINS),
        "Promised 95 %, the recommended rule achieved 93.88 % (likely 93 % to 94.66 %): it missed its promise; expect 93.88 %."
        " On single dates it was 90 % to 97 %.",
    ),
    (
        fact("promise_exceeded", **PROMISE | ORIGINS),
        "Promised 95 %, the recommended rule achieved 93.88 % (likely 93 % to 94.66 %): it kept its promise and holds a little"
        " more than necessary. On single dates it was 90 % to 97 %.",
    ),
    (fact("no_rule_kept_promise", promised=0.99), "No rule kept 99 %."),
    (
        fact(
            "other_rule_kept_promise",
            promised=0.9,
            rule="Poisson SBA",
            mean_leftover=1.2345,
            recommended_leftover=1.1,
        ),
        "At 90 % the rule “Poisson, Syntetos-Boylan forecast” kept the promise, with 1.23 pieces left over per item and window instead of 1.1.",
    ),
    (
        fact(
            "other_rule_left_less",
            promised=0.9,
            rule="Poisson SBA",
            mean_leftover=1.0,
            recommended_leftover=1.1,
        ),
        "At 90 % the rule “Poisson, Syntetos-Boylan forecast” kept the promise too and left less over: 1 pieces per item and window instead of 1.1.",
    ),
    (
        fact("too_few_misses_expected", promised=0.99, expected_misses=1.08, windows=108),
        "At 99 % only 1.1 misses are expected in 108 windows. The history is too short, or has too few items, to tell this"
        " promise from a lower one.",
    ),
    (
        fact("achieved_service_uncertain", promised=0.9, half_interval_points=5.04),
        "With so few windows the service at 90 % is known only to 5.0 percentage points.",
    ),
    (
        fact("promise_for_all_items"),
        "A promise is for all items together, not for each of them. The intervals treat windows as independent; where demands"
        " rise and fall together they should be wider.",
    ),
    (fact("scores_of_part_of_items", every=3), "The scores are of one item in 3."),
    (fact("rows_thinned", every=2, rows=5000), "To answer in time, one row in 2 of 5,000 was replayed."),
    (
        fact(
            "record_too_short",
            months=10,
            items=12,
            months_needed=27,
            months_to_learn=24,
            exposure_months=3,
        ),
        "The record has 10 complete months and 12 requested items. A back-test needs 27 months: 24 to learn from and 3 to"
        " compare with.",
    ),
    (fact("only_requested_items"), "Items that were never requested are not part of this record."),
]


@pytest.mark.parametrize(("found", "text"), CASES, ids=[found.code for found, _ in CASES])
def test_each_fact_reads_as_a_sentence(found, text):
    assert sentence(found) == text


def test_every_code_of_this_room_is_read():
    assert {found.code for found, _ in CASES} | set(COUNTED) == set(SENTENCES)


@pytest.mark.parametrize("code", COUNTED)
@pytest.mark.parametrize(("count", "begins"), [(1, "1 "), (1234, "1,234 ")])
def test_what_was_left_out_is_counted(code, count, begins):
    text = sentence(fact(code, count=count, **COUNTED[code]))
    assert text.startswith(begins)
    assert text.endswith(".")
    assert ("requests" in text or "items" in text or "rows" in text) == (count > 1)


@pytest.mark.parametrize("method", METHODS)
def test_every_method_has_a_name(method):
    values = {"periods_with_demand": 1, "periods": 4, "demand_class": "intermittent", "interval_periods": 4.0}
    text = sentence(fact("demand_intermittent", **values, size_cv2=0.0, method=method, rate_per_year=3.0))
    assert "ethod" in text


def test_a_spare_that_pays_at_no_rate_says_so():
    text = sentence(fact("single_spare_break_even", share_away=0.5, price_up_to=100.0, rate_from=None))
    assert text.endswith("one pays up to a price of 100.00, at no rate at this price.")


def test_units_of_one_age_have_no_range():
    text = sentence(fact("demand_from_unit_ages", units=1, youngest_hours=500.0, oldest_hours=500.0, **AGES))
    assert text.startswith("1 unit, in service for 500 h, running")


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.98, "98 %"), (0.9996, "99.96 %"), (0.99999, "99.999 %"), (1.0, "100 %"), (0.0, "0 %")],
)
def test_a_chance_is_never_rounded_up_to_certainty(share, text):
    values = {"service": "fill_rate", "target": 0.5, "achieved": share}
    assert sentence(fact("service_reached", **values)).endswith(f"gives {text}.")

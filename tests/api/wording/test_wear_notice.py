import pytest

from api.wording.sentences import sentence
from api.wording.wear_notice import SENTENCES
from inventory.facts import fact

BY_CALENDAR = fact("hours_by_calendar", hours_per_year=6000)
SLOPE = {
    "slope_percent_per_1000_h": 0.41666,
    "slope_low": 0.3,
    "slope_high": 0.51234,
    "confidence": 0.95,
}
LIMIT = {
    "inspection_interval_days": 49.7,
    "warning_percent": 1.8,
    "limit_percent": 3.0,
    "last_inspection_on": "2026-04-11",
}
CASES = [
    (
        fact("wear_limit_not_known"),
        "The wear limit of this chain is not known: record the number of teeth.",
    ),
    (
        fact("too_few_wear_readings", readings=1, needed=3),
        "1 reading of this drive's chain: a trend needs 3, two of them of one chain.",
    ),
    (
        fact("wear_slope_of_current_chain", readings=4, **SLOPE, hours=BY_CALENDAR),
        "The chain in service wears by 0.417 % per 1,000 h (0.3 to 0.512, 95 % confidence), by the calendar at 6,000 hours a year,"
        " from 4 readings.",
    ),
    (
        fact(
            "wear_slope_of_all_chains",
            readings=3,
            **SLOPE,
            hours=fact("hours_by_meter"),
            chains=1,
            current_readings=1,
        ),
        "Chains of this drive wear by 0.417 % per 1,000 h (0.3 to 0.512, 95 % confidence), by the meter, from 3 readings of 1"
        " chain; the chain in service has 1 reading.",
    ),
    (fact("wear_slope_uncertain", reached=0.917), "So few readings support only 92 % confidence."),
    (fact("hours_by_meter"), "by the meter"),
    (BY_CALENDAR, "by the calendar at 6,000 hours a year"),
    (
        fact("hours_by_calendar_all_year"),
        "by the calendar, day and night, since its hours per year are not recorded",
    ),
    (fact("meter_not_usable"), "The meter ran backwards or stood still, so the calendar was used."),
    (
        fact("wear_limit_chance", early_limit_on="2026-08-02", chance=0.1),
        "The chance that the limit is reached by 2 Aug 2026 is 10 %: a part is ordered in time for that day.",
    ),
    (fact("no_wear_growth"), "The wear does not grow: no limit is in sight."),
    (
        fact("wear_limit_ahead", **LIMIT),
        "Inspected every 50 days; wear counts as visible from 1.8 %, the limit is 3 %. Last inspection 11 Apr 2026.",
    ),
    (
        fact("wear_limit_passed", **LIMIT),
        "Inspected every 50 days; wear counts as visible from 1.8 %, the limit is 3 %. At the last inspection, 11 Apr 2026, the"
        " limit was passed.",
    ),
]


@pytest.mark.parametrize(("found", "text"), CASES)
def test_a_fact_reads_as_a_sentence(found, text):
    assert sentence(found) == text


def test_every_sentence_is_tried():
    assert {found.code for found, _ in CASES} == set(SENTENCES)

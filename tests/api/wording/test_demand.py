import pytest

from api.wording.demand import SENTENCES
from api.wording.sentences import sentence
from inventory.facts import fact

SHAPE = {"shape": 2.345, "shape_low": 1.0512, "shape_high": 4.5678}
MONTHS = {"requests": 37, "record_years": 10.0, "months": 32}
OF_ROLE = fact("family_of_role", role="driver")
ALIKE = fact("rates_rise_with_exposure", p_value=0.0123)
TOO_SMALL = fact("family_too_small_or_without_demand", pools=3)
SUBSTITUTE = {"item": "SPR-009", "grade": "with_work", "pieces": 2, "averted_pieces": 0.2512}
CASES = [
    (
        fact("no_demand_on_record", record_years=9.871),
        "No position served from this storeroom is known to need it, and there were no requests in 9.87 years of record.",
    ),
    (
        fact("only_planned_demand", record_years=10.0),
        "No position served from this storeroom is known to need it, and in 10 years of record it was requested for planned work only.",
    ),
    (
        fact("monthly_demand_several_pieces", **MONTHS),
        "37 unplanned requests in 10 years, in 32 different months and sometimes for several pieces: monthly demand is used.",
    ),
    (
        fact("monthly_demand_without_position", **MONTHS),
        "37 unplanned requests in 10 years, in 32 different months and mostly without a position in use that needs it:"
        " monthly demand is used.",
    ),
    (
        fact("demand_fading"),
        "It has not been requested for much longer than usual and may be going out of use, so the forecast fades (TSB).",
    ),
    (
        fact("requests_of_positions", requests=0, positions=1, position_years=5.0),
        "0 unplanned requests from 1 position in 5 position-years.",
    ),
    (
        fact("requests_of_positions", requests=1, positions=4, position_years=39.5),
        "1 unplanned request from 4 positions in 39.5 position-years.",
    ),
    (
        fact("requests_without_position", requests=2, record_years=10.0),
        "2 unplanned requests in 10 years of record, none of them for a position.",
    ),
    (
        fact("requests_for_positions", requests=37, positions=1, record_years=10.0),
        "37 unplanned requests in 10 years of record, for 1 position: it is counted by its requests.",
    ),
    (
        fact("requests_besides_positions", requests=1),
        "1 unplanned request besides from no position that needs it now, counted too.",
    ),
    (
        fact(
            "record_complete_from",
            begins_on="2025-11-20",
            basis=fact("record_starts_where_dense", earlier_days=1, earlier_years=19.0, days=24, years=1.01),
            earlier_requests=1,
        ),
        "The record counts as complete from 20 Nov 2025. 24 days with records in 1.01 years, after 1 in the 19 years before."
        " 1 earlier request of it does not count as demand; what was fitted before still counts as a life.",
    ),
    (fact("record_not_begun"), "There are no records yet."),
    (
        fact("record_starts_with_first", days=1, years=9.871),
        "1 day with records in 9.87 years, from the first one on.",
    ),
    (
        fact("record_density_rises", from_day="2025-11-20", earlier_per_year=0.2, later_per_year=24.05),
        "From 20 Nov 2025 there are 24.1 days with records a year, before 0.2: check from when the record is complete.",
    ),
    (
        fact("record_density_falls", from_day="2025-11-20", earlier_per_year=24.05, later_per_year=0.0),
        "From 20 Nov 2025 there are 0 days with records a year, before 24.1: check whether all requests are still recorded.",
    ),
    (
        fact("importance_without_drive_in_use"),
        "Only drives that are out of use requested it, so its importance is not known.",
    ),
    (
        fact("record_start_set", source="work_orders", note=None),
        "Set by a person for work orders. Note: not recorded.",
    ),
    (
        fact("pieces_per_job", least=1, most=4),
        "A job took 1 to 4 pieces: jobs are counted, and each takes pieces as the jobs on record did. That these are few is"
        " included.",
    ),
    (
        fact("no_mechanism_recorded"),
        "No failure mechanism is recorded for any unit, so all ends are taken as wear.",
    ),
    (
        fact("wear_shown", failures=24, suspensions=2, **SHAPE),
        "24 units wore out and 2 did not, which is enough for a Weibull distribution. The shape 2.35 (1.05 to 4.57) lies above 1,"
        " so age matters. What so few lives leave open is included.",
    ),
    (
        fact("too_few_worn_out", failures=1),
        "1 unit is known to have worn out: too few for a distribution of lives, so requests are counted.",
    ),
    (
        fact("too_few_worn_out", failures=4),
        "4 units are known to have worn out: too few for a distribution of lives, so requests are counted.",
    ),
    (
        fact("no_wear_distribution_fits", reason=fact("likelihood_without_maximum")),
        "No Weibull distribution fits the lives, so requests are counted. The likelihood has no clear maximum: no shape can be"
        " estimated.",
    ),
    (
        fact("no_age_effect_shown", **SHAPE),
        "The lives do not show that age matters: shape 2.35 (1.05 to 4.57). So requests are counted.",
    ),
    (
        fact("requests_accelerate", position="KILN-P1", requests=6),
        "KILN-P1 needs it more and more often (6 times): check the drive, not only the stock.",
    ),
    (
        fact("family_of_pitch", role="driver", pitch_mm=12.7, surroundings="harsh"),
        "driver sprockets of pitch 1/2 in (12.7 mm) in harsh surroundings",
    ),
    (
        fact("family_of_pitch", role="driven", pitch_mm=None, surroundings="ordinary"),
        "driven sprockets of pitch not recorded in ordinary surroundings",
    ),
    (
        fact("family_of_surroundings", role="idler", surroundings="ordinary"),
        "idler sprockets in ordinary surroundings",
    ),
    (OF_ROLE, "driver sprockets"),
    (fact("family_of_all_sprockets"), "all sprockets"),
    (fact("family_without_position", kind="joining_link"), "joining link without a position"),
    (
        fact("prior_from_family", pools=12, family=OF_ROLE, events=0.81234, years=3.987),
        "12 parts of the same family (driver sprockets) give a prior worth 0.812 requests in 3.99 years.",
    ),
    (
        fact("prior_from_common_rate", pools=8, family=OF_ROLE, rate_per_year=0.2),
        "8 parts of the same family (driver sprockets) differ no more than by chance: one rate holds for all, 0.2 a year.",
    ),
    (
        fact(
            "prior_half_event_at_mean_rate",
            events=0.5,
            why=fact("family_not_alike", family=OF_ROLE, caution=ALIKE),
        ),
        "The prior is worth 0.5 requests at the plant's mean rate. Its family (driver sprockets) gives none. Rates rise with exposure"
        " (p = 0.012): groups that run much and little are not alike.",
    ),
    (
        fact("prior_half_event_alone", events=0.5, p_value=1.1e-05),
        "It is requested more often than others of its kind (p = 1.1e-05), so only its own requests count, and 0.5 more for what so"
        " few leave open.",
    ),
    (
        fact("prior_half_event_in_years_of_others", events=0.5, why=TOO_SMALL, years=35.0),
        "The prior is worth 0.5 requests in the 35 years of others of its kind. 3 parts of its kind are too few for a family, or they"
        " were never requested.",
    ),
    (
        fact("estimates_until", last_day="2026-10-31"),
        "What all parts share, the prior and the start of the record, is estimated from records up to 31 Oct 2026.",
    ),
    (
        fact("importance_without_position"),
        "No position ever requested it, so its importance is not known.",
    ),
    (
        fact("importance_of_requesting_drive", drive="KILN-D1", criticality="vital"),
        "The worst of the drives in use that requested it is KILN-D1 (criticality: vital).",
    ),
    (
        fact("importance_of_only_candidate", drive="KILN-D1", criticality=None),
        "Drive KILN-D1 depends on it (criticality: not recorded): nothing else that is kept can serve there.",
    ),
    (
        fact("importance_lowered_by_substitutes", drive="KILN-D1", criticality="vital"),
        "Every position that it serves has another candidate that is kept, so no drive depends on it alone. The worst is KILN-D1"
        " (criticality: vital).",
    ),
    (
        fact("substitute_after_work", **SUBSTITUTE, positions=1, work_minutes=35, work_basis="estimate"),
        "SPR-009 can serve 1 position after an estimated 35 minutes of work (with work): the 2 kept of it avert a shortage of 0.25"
        " pieces in a lead time. They are not counted in the levels.",
    ),
    (
        fact("substitute_after_work", **SUBSTITUTE, positions=2, work_minutes=35),
        "SPR-009 can serve 2 positions after 35 minutes of work (with work): the 2 kept of it avert a shortage of 0.25 pieces in a"
        " lead time. They are not counted in the levels.",
    ),
    (
        fact(
            "chain_counted_in_jobs",
            links_per_job=112,
            jobs=12,
            shortest_links=82,
            longest_links=130,
            mean_links=95.0,
            job_share=0.9,
        ),
        "Chain is counted in jobs of 112 links: 12 on record took 82 to 130 links, and 90 % of jobs need no more than 112. Stock is"
        " what whole jobs can be cut from, and the levels are multiples of a job.",
    ),
    (
        fact("substitute_available", **SUBSTITUTE, positions=1),
        "SPR-009 can serve 1 position (with work): the 2 kept of it avert a shortage of 0.25 pieces in a lead time. They are not"
        " counted in the levels.",
    ),
]


@pytest.mark.parametrize(("found", "text"), CASES)
def test_a_fact_reads_as_a_sentence(found, text):
    assert sentence(found) == text


def test_every_sentence_is_tried():
    nested = {TOO_SMALL.code, "family_not_alike", "record_starts_where_dense"}
    assert {found.code for found, _ in CASES} | nested == set(SENTENCES)

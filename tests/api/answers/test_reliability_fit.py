import json
import math
import time

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.api.records import errors

pytestmark = [pytest.mark.django_db, pytest.mark.no_rows]
ADDRESS = "/api/v1/reliability/fit/"
ENDED = [700, 900, 1000, 1100, 1300]


def life(hours, ended_by="failure", **more):
    return {"hours": hours, "ended_by": ended_by, **more}


def fit(client, lives, **more):
    return client.post(ADDRESS, {"lives": lives, **more})


def answer(client, lives, **more):
    found = fit(client, lives, **more)
    assert found.status_code == 200, found.content
    return found.json()


def test_lives_that_wear_out_get_a_law_with_intervals(as_viewer):
    found = answer(as_viewer, [life(hours) for hours in ENDED] + [life(1300, "preventive")])

    assert (found["shape"], found["scale_hours"]) == pytest.approx((4.927, 1165.9), rel=1e-3)
    assert (found["failures"], found["suspensions"], found["exposure_hours"]) == (5, 1, 6300)
    assert found["verdict"] == "wear_out"
    for interval, value in (("shape_interval", "shape"), ("scale_interval_hours", "scale_hours")):
        assert found[interval][0] < found[value] < found[interval][1]
    assert found["mean_life_hours"] == pytest.approx(
        found["scale_hours"] * math.gamma(1 + 1 / found["shape"]), rel=1e-12
    )


def test_log_likelihood_is_that_of_the_law(as_viewer):
    found = answer(as_viewer, [life(hours) for hours in ENDED] + [life(1300, "preventive")])
    shape, scale = found["shape"], found["scale_hours"]

    log_density = [
        math.log(shape / scale) + (shape - 1) * math.log(t / scale) - (t / scale) ** shape for t in ENDED
    ]
    assert found["log_likelihood"] == pytest.approx(sum(log_density) - (1300 / scale) ** shape, rel=1e-12)


def test_a_unit_worn_to_its_limit_has_ended_and_one_still_running_has_not(as_viewer):
    found = answer(
        as_viewer, [life(900, "limit_reached"), life(400, None), life(500, ""), life(7, "unknown")]
    )

    assert (found["failures"], found["suspensions"]) == (1, 3)


def test_without_failures_the_hours_run_still_give_a_bound(as_viewer):
    found = answer(as_viewer, [life(6000, None), life(4000, "preventive")])

    assert (found["verdict"], found["shape"], found["scale_interval_hours"]) == ("too_few", None, None)
    assert found["rate_upper_per_hour"] == pytest.approx(-math.log(0.05) / 10_000)
    none, bound = found["reasons"]
    assert (none["code"], none["values"]) == ("no_failures_observed", {})
    assert bound["code"] == "mean_life_at_least"
    assert bound["values"]["hours"] == pytest.approx(3338.08, rel=1e-6)
    assert all(reason["explanation"].endswith(".") for reason in (none, bound))


@pytest.mark.parametrize("lives", [[], [life(0, None)]])
def test_nothing_run_is_answered_too(as_viewer, lives):
    found = answer(as_viewer, lives)

    assert (found["verdict"], found["exposure_hours"], found["rate_upper_per_hour"]) == ("too_few", 0, None)
    assert found["reasons"]


def test_two_failures_are_a_guess_and_called_one(as_viewer):
    found = answer(as_viewer, [life(500), life(900), life(900, None)])

    assert found["verdict"] == "too_few"
    assert found["shape"] > 0
    (reason,) = found["reasons"]
    assert reason["code"] == "too_few_failures_for_shape"
    assert reason["values"] == {
        "failures": 2,
        "shape": found["shape"],
        "shape_low": found["shape_interval"][0],
        "shape_high": found["shape_interval"][1],
        "confidence_percent": 95,
    }


def test_an_interval_without_end_is_null_and_the_reason_says_so(as_viewer):
    found = answer(as_viewer, [life(100), *[life(5000, None)] * 3], confidence=0.9999)

    assert found["scale_interval_hours"][1] is None
    assert "scale_without_upper_bound" in [reason["code"] for reason in found["reasons"]]


def test_a_weight_stands_for_that_many_lives(as_viewer):
    apart = answer(as_viewer, [life(700), life(700), life(900), life(1200, None), life(1000)])
    together = answer(as_viewer, [life(700, weight=2), life(900), life(1200, None), life(1000)])

    assert together["failures"] == apart["failures"] == 4
    assert together["shape"] == pytest.approx(apart["shape"], rel=1e-9)


def test_counts_are_whole_where_the_weights_are(as_viewer):
    whole = fit(as_viewer, [life(700, weight=2), life(900)])
    broken = fit(as_viewer, [life(700, weight=0.5), life(900)])

    assert b'"failures":3,' in whole.content
    assert broken.json()["failures"] == 1.5


def test_ends_found_between_two_looks_are_fitted(as_viewer):
    looks = [{"between_hours": [low, low + 1], "ended_by": "failure"} for low in ENDED]
    close = answer(as_viewer, looks)
    exact = answer(as_viewer, [life(low + 0.5) for low in ENDED])

    assert close["shape"] == pytest.approx(exact["shape"], rel=1e-3)
    assert close["exposure_hours"] == exact["exposure_hours"]


def test_an_end_found_at_the_first_look_counts_as_left_censored(as_viewer):
    lives = [{"between_hours": [0, 800], "ended_by": "limit_reached"}, life(600), life(900), life(1000, None)]
    found = answer(as_viewer, lives)

    assert found["failures"] == 3
    assert found["shape"] > 0


def test_each_mechanism_gets_its_own_law(as_viewer):
    worn = [life(hours, "limit_reached", mechanism="wear") for hours in ENDED]
    broken = [life(hours, mechanism="overload") for hours in (100, 800, 90)]
    found = answer(as_viewer, [*worn, *broken, life(2000, None)])

    split = {row["mechanism"]: row for row in found["mechanisms"]}
    assert {name: (row["failures"], row["suspensions"]) for name, row in split.items()} == {
        "overload": (3, 6),
        "wear": (5, 4),
    }
    assert split["wear"]["verdict"] == "wear_out"
    assert found["failures"] == 8


def test_against_one_mechanism_other_ends_are_censored(as_viewer):
    lives = [life(900, mechanism="wear"), {"between_hours": [200, 400], "ended_by": "failure"}]
    found = answer(as_viewer, lives, mechanism="wear")

    assert (found["mechanism"], found["failures"], found["suspensions"]) == ("wear", 1, 1)
    assert found["exposure_hours"] == 900 + 200


def test_confidence_widens_the_intervals(as_viewer):
    lives = [life(hours) for hours in ENDED]
    narrow, wide = (answer(as_viewer, lives, confidence=c)["shape_interval"] for c in (0.8, 0.99))

    assert wide[0] < narrow[0] < narrow[1] < wide[1]


BAD_LIVES = [
    (life(-1), {"/lives/1/hours"}),
    (life(1e8), {"/lives/1/hours"}),
    (life(10**40), {"/lives/1/hours"}),
    (life("1200"), {"/lives/1/hours"}),
    (life(True), {"/lives/1/hours"}),
    (life(0), {"/lives/1/hours"}),
    (life(5, "broke"), {"/lives/1/ended_by"}),
    ({"hours": 5}, {"/lives/1/ended_by"}),
    (life(5, weight=0), {"/lives/1/weight"}),
    (life(0, weight="2", mechanism="rust"), {"/lives/1/hours", "/lives/1/weight", "/lives/1/mechanism"}),
    (life(5, hour=3), {"/lives/1/hour"}),
    ({"ended_by": "failure"}, {"/lives/1/hours", "/lives/1/between_hours"}),
    (life(5, between_hours=[1, 2]), {"/lives/1/hours", "/lives/1/between_hours"}),
    ({"between_hours": [9, 3], "ended_by": "failure"}, {"/lives/1/between_hours"}),
    ({"between_hours": [9, 3], "ended_by": "gone"}, {"/lives/1/between_hours", "/lives/1/ended_by"}),
    ({"between_hours": [0, 0], "ended_by": "failure"}, {"/lives/1/between_hours"}),
    ({"between_hours": [1, 3], "ended_by": None}, {"/lives/1/between_hours"}),
    ({"between_hours": [1], "ended_by": "failure"}, {"/lives/1/between_hours"}),
    ({"between_hours": [1, "3"], "ended_by": "failure"}, {"/lives/1/between_hours/1"}),
    (17, {"/lives/1"}),
]


@pytest.mark.parametrize(("bad", "pointers"), BAD_LIVES)
def test_every_fault_of_a_life_is_named(as_viewer, bad, pointers):
    found = fit(as_viewer, [life(800), bad, life(900)])

    assert found.status_code == 400
    assert set(errors(found)) == pointers


def test_faults_of_several_members_are_named_together(as_viewer):
    found = fit(as_viewer, [life(-1), life(5), life(0)], confidence=1.0, mechanism="rust", shape=2)

    assert set(errors(found)) == {
        "/lives/0/hours",
        "/lives/2/hours",
        "/confidence",
        "/mechanism",
        "/shape",
    }


@pytest.mark.parametrize("body", ["{}", '{"lives": null}', '{"lives": 3}', '{"lives": {"hours": 3}}', "[]"])
def test_a_body_without_lives_is_refused(as_viewer, body):
    assert as_viewer.post(ADDRESS, body, content_type="application/json").status_code == 400


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e400", "-1e400"])
def test_numbers_without_end_are_refused(as_viewer, number):
    body = f'{{"lives": [{{"hours": {number}, "ended_by": "failure"}}]}}'

    assert as_viewer.post(ADDRESS, body, content_type="application/json").status_code == 400


def test_a_stranger_gets_no_answer(as_stranger):
    assert fit(as_stranger, [life(5)]).status_code == 401


def test_it_reads_no_record(as_viewer, django_assert_num_queries):
    with django_assert_num_queries(1):
        answer(as_viewer, [life(700), life(900), life(900, None)])


def test_ten_thousand_lives_are_answered_and_one_more_is_refused(as_viewer):
    hours = np.random.default_rng(3).weibull(2.0, 10_001) * 8000 + 1
    lives = [life(min(float(t), 9000), "failure" if t < 9000 else "preventive") for t in hours]
    started = time.monotonic()

    assert answer(as_viewer, lives[:-1])["shape"] == pytest.approx(2, rel=0.05)
    assert time.monotonic() - started < 20
    assert set(errors(fit(as_viewer, lives))) == {"/lives"}


HOURS = st.one_of(st.integers(0, 20_000), st.floats(0, 1e7), st.sampled_from([0, 1e-300, 5e-324, 1e7, 500]))
GOOD_LIVES = st.one_of(
    st.builds(
        lambda hours, ended_by, mechanism, weight: {
            "hours": hours + (ended_by in ("failure", "limit_reached")) * 1e-9,
            "ended_by": ended_by,
            "mechanism": mechanism,
            "weight": weight,
        },
        st.one_of(st.integers(0, 20_000), st.floats(0, 9e6)),
        st.sampled_from(["failure", "limit_reached", "preventive", None]),
        st.sampled_from(["wear", "overload", None]),
        st.one_of(st.integers(1, 9), st.floats(0.001, 10_000)),
    ),
    st.builds(
        lambda low, gap: {"between_hours": [low, low + gap], "ended_by": "failure"},
        st.floats(0, 5e6),
        st.floats(1e-3, 4e6),
    ),
)
JUNK = st.one_of(
    st.none(), st.booleans(), st.text(max_size=5), st.integers(-(10**40), 10**40), st.floats(), st.just([])
)
ANY_LIVES = st.fixed_dictionaries(
    {},
    optional={
        "hours": st.one_of(HOURS, JUNK),
        "between_hours": st.one_of(st.lists(st.one_of(HOURS, JUNK), max_size=3), JUNK),
        "ended_by": st.one_of(st.sampled_from(["failure", "preventive", ""]), JUNK),
        "mechanism": st.one_of(st.just("wear"), JUNK),
        "weight": st.one_of(HOURS, JUNK),
    },
)
FUZZ = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])


@FUZZ
@given(lives=st.lists(GOOD_LIVES, max_size=9), confidence=st.floats(0.01, 0.9999))
def test_every_well_formed_report_is_answered(as_viewer, lives, confidence):
    found = answer(as_viewer, lives, confidence=confidence)

    assert (found["shape"] is None) <= (found["verdict"] == "too_few")
    assert found["reasons"]


@FUZZ
@given(lives=st.lists(st.one_of(GOOD_LIVES, ANY_LIVES), max_size=4), more=JUNK)
def test_whatever_comes_is_answered_or_refused(as_viewer, lives, more):
    body = json.dumps({"lives": lives, "confidence": more})
    found = as_viewer.post(ADDRESS, body, content_type="application/json")

    assert found.status_code in (200, 400)
    assert found.status_code == 200 or found.json()["detail"]

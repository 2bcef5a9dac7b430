import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from api.answers.backtest import calculate_backtest
from inventory.stocking.backtest import RECOMMENDED, run_backtest
from inventory.stocking.forecast_rules import SIMPLE_RULES
from tests.api.records import errors
from tests.examples import some_of
from tests.factories import ItemFactory, RequestFactory, StoreroomFactory
from tests.jobs import forget_answers, get_calculated

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/stocking/backtest/"
ROWS = np.random.default_rng(11).poisson(0.4, (12, 36)).tolist()


def ask(client, **query):
    forget_answers()
    found = get_calculated(client, ADDRESS, query)
    assert found.status_code == 200, found.content
    return found.json()


def post(client, periods, **more):
    return client.post(ADDRESS, {"periods": periods, **more})


def answer(client, periods, **more):
    found = post(client, periods, **more)
    assert found.status_code == 200, found.content
    return found.json()


def record(rows, *, room="MAIN", **item):
    """The rows as requests, month by month from January 2020."""
    storeroom = StoreroomFactory(code=room)
    for number, row in enumerate(rows):
        part = ItemFactory(stock_number=f"SPR-{number:02}", **item)
        for month, pieces in enumerate(row):
            if pieces:
                at = datetime(2020 + month // 12, month % 12 + 1, 10, tzinfo=UTC)
                RequestFactory(item=part, storeroom=storeroom, at=at, quantity=pieces)


def of(found, rule):
    return [row for row in found["outcomes"] if row["rule"] == rule]


def test_given_rows_are_replayed_by_every_rule_at_every_promise(as_viewer):
    found = answer(as_viewer, ROWS)
    replayed = run_backtest(ROWS, first_origin=24, exposure=3, step=3)
    expected = [promise for promise in replayed.promises if promise.rule == RECOMMENDED]

    assert {row["rule"] for row in found["outcomes"]} == {*SIMPLE_RULES, RECOMMENDED}
    assert [row["promised"] for row in of(found, RECOMMENDED)] == [0.9, 0.95, 0.99]
    for row, own in zip(of(found, RECOMMENDED), expected, strict=True):
        assert row["achieved_cycle_service"] == pytest.approx(own.achieved)
        assert row["achieved_interval"] == pytest.approx([own.low, own.high])
        assert (row["verdict"], row["mean_leftover"]) == (own.verdict, pytest.approx(own.mean_leftover))
    assert (found["items"], found["periods"], found["windows"]) == (12, 36, 48)
    assert [origin["periods_known"] for origin in found["origins"]] == [24, 27, 30, 33]
    scope = found["reasons"][0]
    assert scope["explanation"].startswith("12 items over 36 periods")
    assert (scope["code"], scope["values"]) == (
        "backtest_scope",
        {"items": 12, "periods": 36, "origins": 4, "exposure_periods": 3, "windows": 48},
    )


def reasons_of(found):
    return [(reason["code"], reason["values"]) for reason in found["reasons"]]


def test_scores_say_which_law_was_nearer(as_viewer):
    found = answer(as_viewer, ROWS)

    assert len(found["calibration"]) == len(SIMPLE_RULES) + 1
    for row in found["calibration"]:
        assert row["mean_score"] > 0
        assert sum(row["pit"]) == pytest.approx(1)


def test_prices_make_a_spend_beside_its_currency(as_viewer):
    found = answer(as_viewer, ROWS, unit_costs=[10] * 11 + [None], currency="EUR", targets=[0.9])
    double = answer(as_viewer, ROWS, unit_costs=[20] * 11 + [None], currency="EUR", targets=[0.9])

    assert found["currency"] == "EUR"
    for one, two in zip(found["outcomes"], double["outcomes"], strict=True):
        assert float(two["mean_spend"]) == pytest.approx(2 * float(one["mean_spend"]), abs=0.02)
    assert answer(as_viewer, ROWS)["outcomes"][0]["mean_spend"] is None


def test_the_plants_own_record_is_replayed(as_viewer):
    record(ROWS)
    found, given_rows = ask(as_viewer), answer(as_viewer, ROWS)

    assert (found["items"], found["periods"], found["currency"]) == (12, 36, "EUR")
    assert found["origins"][0] == {"periods_known": 24, "month": "2022-01-01"}
    for own, other in zip(found["outcomes"], given_rows["outcomes"], strict=True):
        assert own["achieved_cycle_service"] == other["achieved_cycle_service"]
        assert float(own["mean_spend"]) > 0
    assert ("only_requested_items", {}) in reasons_of(found)


def test_the_query_sets_the_replay_and_the_storeroom(as_viewer):
    record(ROWS[:2])
    record(ROWS[2:5], room="KILN")
    found = ask(as_viewer, storeroom="KILN", months_to_learn=12, exposure_months=2, step_months=6)

    assert found["items"] == 3
    assert [row["periods_known"] for row in found["origins"]] == [12, 18, 24, 30]
    assert (found["months_to_learn"], found["exposure_months"], found["step_months"]) == (12, 2, 6)


def test_a_record_too_short_is_answered_by_saying_so(as_viewer):
    empty = ask(as_viewer)
    record([row[:10] for row in ROWS])
    short = ask(as_viewer)

    for found in (empty, short):
        assert (found["outcomes"], found["items"]) == ([], 0)
        assert found["reasons"][0]["code"] == "record_too_short"
        assert found["reasons"][0]["values"]["months_needed"] == 27
    assert short["items_given"] > 0


def test_what_is_left_out_is_counted_and_said(as_viewer):
    record(ROWS)
    RequestFactory(is_planned=True, at=datetime(2021, 5, 5, tzinfo=UTC))
    found = ask(as_viewer)

    assert found["left_out"]["planned"] == 1
    assert ("planned_requests_left_out", {"count": 1}) in reasons_of(found)


def test_items_priced_in_another_currency_are_not_added_up(as_viewer):
    record(ROWS[:6])
    ItemFactory._meta.model.objects.filter(stock_number="SPR-00").update(currency="SEK")
    found = ask(as_viewer)

    assert found["currency"] == "EUR"
    assert ("items_without_price", {"count": 1, "currency": "EUR"}) in reasons_of(found)


def test_the_same_record_gives_the_same_answer(as_viewer):
    record(ROWS[:4])

    first, second = ask(as_viewer), ask(as_viewer)
    assert first | {"as_of": None} == second | {"as_of": None}


def test_later_requests_change_no_earlier_origin(as_viewer):
    record(ROWS)
    before = ask(as_viewer)
    late = datetime(2022, 12, 11, tzinfo=UTC)
    RequestFactory(item=ItemFactory(stock_number="SPR-00"), at=late, quantity=60)
    after = ask(as_viewer)

    for one, two in zip(before["outcomes"], after["outcomes"], strict=True):
        assert one["service_by_origin"][:-1] == two["service_by_origin"][:-1]


def test_it_costs_a_fixed_number_of_queries(as_viewer, django_assert_num_queries):
    record(ROWS[:2])
    # Requests, the beginning of the record, its settings, and what the recommendations say.
    with django_assert_num_queries(4):
        calculate_backtest()
    record([[0] * 5 + row for row in ROWS[:6]], room="KILN")
    with django_assert_num_queries(4):
        calculate_backtest()


def test_what_all_storerooms_have_on_record_is_replayed(as_viewer):
    record(ROWS[:4])
    record([[0] * 3 + [1] + row[4:] for row in ROWS[:3]], room="KILN")
    record([[0] * 24 + [1] + row[25:] for row in ROWS[:2]], room="NEW")
    found = ask(as_viewer)

    assert (found["periods"], found["items"], found["items_given"]) == (33, 7, 9)
    reasons = {one["code"]: one["values"] for one in found["reasons"]}
    assert reasons["items_of_short_records_left_out"]["count"] == 2


def test_the_month_that_has_not_ended_is_no_part_of_it(as_viewer):
    record(ROWS)
    RequestFactory(item=ItemFactory(stock_number="SPR-00"), at=datetime.now(UTC) - timedelta(seconds=1))
    found = ask(as_viewer)

    assert (found["periods"], found["left_out"]["in_the_present_month"]) == (36, 1)


@pytest.mark.parametrize(
    ("query", "names"),
    [
        ({"months_to_learn": 1}, {"months_to_learn"}),
        ({"months_to_learn": 241}, {"months_to_learn"}),
        ({"exposure_months": 0}, {"exposure_months"}),
        ({"exposure_months": "three", "step_months": 2.5}, {"exposure_months", "step_months"}),
        ({"months_to_learn": 4, "exposure_months": 5}, {"months_to_learn"}),
        ({"storeroom": "NOWHERE"}, {"storeroom"}),
        ({"targets": "0.9"}, {"targets"}),
    ],
)
def test_a_query_out_of_range_is_refused_by_name(as_viewer, query, names):
    found = as_viewer.get(ADDRESS, query)

    assert found.status_code == 400
    assert {row["parameter"] for row in found.json()["errors"]} == names


FULL = [[1] * 36]
BAD = [
    ({"periods": []}, {"/periods"}),
    ({"periods": [[]]}, {"/periods/0"}),
    ({"periods": {"0": [1]}}, {"/periods"}),
    ({"periods": [[1] * 36, [1] * 35]}, {"/periods/1"}),
    ({"periods": [[1] * 241]}, {"/periods/0"}),
    ({"periods": FULL * 5001}, {"/periods"}),
    ({"periods": [[1] * 35 + [-1], [0.5, True, "2", None] + [1] * 32]}, None),
    ({"periods": [[10**40] + [1] * 35]}, {"/periods/0/0"}),
    ({"periods": [[400] * 36]}, {"/periods"}),
    ({"periods": [[1] * 26]}, {"/periods"}),
    ({"months_to_learn": 2}, {"/months_to_learn"}),
    ({"months_to_learn": "24", "exposure_months": 0, "step_months": True}, None),
    ({"targets": []}, {"/targets"}),
    ({"targets": [0.9, 1, "0.95"]}, {"/targets/1", "/targets/2"}),
    ({"unit_costs": [1, 2]}, {"/unit_costs"}),
    ({"unit_costs": [-1]}, {"/unit_costs/0"}),
    ({"currency": "eur"}, {"/currency"}),
    ({"period": 3, "periods": [[1] * 35 + ["x"]]}, {"/period", "/periods/0/35"}),
]


@pytest.mark.parametrize(("body", "pointers"), BAD)
def test_every_fault_of_a_body_is_named(as_viewer, body, pointers):
    found = as_viewer.post(ADDRESS, {"periods": FULL, **body})

    assert found.status_code == 400
    if pointers is None and "periods" in body:
        pointers = {"/periods/0/35", *(f"/periods/1/{place}" for place in range(4))}
    assert set(errors(found)) == (pointers or {"/months_to_learn", "/exposure_months", "/step_months"})


def test_a_large_record_is_thinned_and_says_so(as_viewer, monkeypatch):
    monkeypatch.setattr("api.answers.backtest.MOST_WORK", 1)
    found = answer(as_viewer, ROWS * 25, targets=[0.9])

    assert (found["items"], found["items_given"]) == (150, 300)
    assert reasons_of(found)[-1] == ("rows_thinned", {"every": 2, "rows": 300})


@pytest.mark.parametrize("method", ["get", "post"])
def test_a_stranger_gets_no_answer(as_stranger, method):
    assert getattr(as_stranger, method)(ADDRESS).status_code == 401


CELLS = st.one_of(
    st.integers(0, 9), st.none(), st.booleans(), st.text(max_size=2), st.floats(), st.just(10**40)
)


@pytest.mark.no_rows
@settings(max_examples=some_of(60), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rows=st.one_of(
        st.lists(st.lists(CELLS, max_size=6), max_size=3),
        st.lists(st.lists(st.integers(0, 9), min_size=6, max_size=6), min_size=1, max_size=3),
    ),
    learn=st.integers(1, 5),
    exposure=st.integers(1, 3),
)
def test_whatever_comes_is_answered_or_refused(as_viewer, rows, learn, exposure):
    body = {"periods": rows, "months_to_learn": learn, "exposure_months": exposure, "step_months": 1}
    found = as_viewer.post(ADDRESS, json.dumps(body), content_type="application/json")

    assert found.status_code in (200, 400), found.content

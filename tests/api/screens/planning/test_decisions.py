import re
from decimal import Decimal

import pytest
from django.contrib.auth.models import Group
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.facts import fact
from inventory.models import Recommendation, StockPolicy
from tests.factories import (
    AdminFactory,
    ItemFactory,
    PositionFactory,
    RecommendationFactory,
    StockingRunFactory,
    StockPolicyFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    UserFactory,
    stock,
)
from tests.jobs import run_queued_jobs

pytestmark = pytest.mark.django_db
LIGHT_BYTES = 80_000
"""What is left of 100 kB for the page itself beside its style sheets and script."""


def client_of(role):
    user = UserFactory(username=f"the {role}")
    user.groups.add(Group.objects.get_or_create(name=role)[0])
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def client(db):
    return client_of("manager")


def to_decide(number="41-0105", **values):
    item = values.pop("item", None) or ItemFactory(stock_number=number, description=f"SPROCKET {number}")
    return RecommendationFactory(
        item=item,
        **{"evidence": {"basis": "b", "figures": {"tied_up": "120.00"}}, "importance": "essential"} | values,
    )


def text_of(answer, status=200):
    assert answer.status_code == status, answer.content
    return " ".join(answer.content.decode().split())


def plain(html):
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def read(client, address="/planning/", **query):
    return text_of(client.get(address, query))


@pytest.mark.parametrize("address", ["/planning/", "/planning/1/", "/planning/1/events.csv"])
def test_a_stranger_is_sent_to_the_login(address):
    assert Client().get(address)["Location"] == f"/login/?next={address}"


def test_only_a_manager_has_a_link_to_the_pages(client):
    assert 'href="/planning/"' in read(client, "/")
    assert 'href="/planning/"' not in read(client_of("viewer"), "/")


def test_before_the_first_run_it_says_what_to_do(client):
    text = read(client)
    assert "Not calculated yet." in text
    assert '<button type="submit">Recalculate</button>' in text
    assert "Recalculate</button>" not in read(client_of("storeroom"))


def test_nothing_to_decide_says_so(client):
    StockingRunFactory()
    assert "Nothing to decide." in read(client)


def test_totals_come_first_with_the_money(client):
    today = {"stocked": True, "reorder_point": 4, "order_up_to": 5, "tied_up": "420.00"}
    to_decide("41-0105", importance="vital")
    to_decide("41-0110", today=today)
    to_decide("41-0115", evidence={})
    text = plain(read(client))
    assert "to decide 3 of them vital 1 ties up 120 EUR frees 300 EUR" in text
    assert "1 has no value, because a price or a lead time is missing" in text


def test_money_of_two_currencies_is_never_summed(client):
    to_decide("41-0105")
    to_decide("41-0110", currency="SEK")
    assert "ties up 120 EUR, 120 SEK" in plain(read(client))


def test_a_line_reads_from_today_to_what_is_recommended(client):
    today = {
        "stocked": True,
        "reorder_point": 0,
        "order_up_to": 1,
        "fill_rate": 0.7,
        "expected_stockouts_per_year": 0.25,
        "holding_cost_per_year": "12.00",
    }
    to_decide(today=today, expected_stockouts_per_year=0.1, holding_cost_per_year=Decimal("24.00"))
    row = plain(read(client))
    assert "today order at 0 up to 1 piece order at 1 up to 2 pieces" in row
    assert "today about once in 4 years about once in 10 years" in row
    assert "today 12 EUR 24 EUR" in row
    assert "Below target: fill rate 70 % today, target 95 %." in row
    assert "0 pieces" in row


def test_the_worst_stands_first_by_importance_then_by_shortages_avoided(client):
    to_decide("41-0001", importance="desirable", rate_per_year=9.0)
    to_decide("41-0002", importance="unknown", rate_per_year=9.0)
    to_decide("41-0003", importance="vital", rate_per_year=0.2)
    to_decide("41-0004", importance="vital", rate_per_year=3.0)
    numbers = re.findall(r'<a class="link ref" href="/planning/\d+/">([^<]+)</a>', read(client))
    assert numbers == ["41-0004", "41-0003", "41-0002", "41-0001"]


def test_stock_runs_out_once_a_job_however_many_pieces_the_job_takes(client):
    figures = {"tied_up": "1.00", "pieces_per_job": 100.0}
    record = to_decide(evidence={"figures": figures}, expected_stockouts_per_year=10.0)
    assert "about once in 10 years" in plain(read(client))
    assert "It then runs out about once in 10 years" in plain(read(client, f"/planning/{record.pk}/"))


def test_what_is_rarer_than_can_be_known_is_a_limit(client):
    record = to_decide(expected_stockouts_per_year=5e-7)
    assert "below 0.001" in read(client, f"/planning/{record.pk}/")


@pytest.mark.parametrize(
    ("query", "shown"),
    [
        ({"storeroom": "WEST"}, ["41-0002"]),
        ({"importance": "vital"}, ["41-0003"]),
        ({"model": "intermittent"}, ["41-0001"]),
        ({"show": "decided"}, ["41-0004"]),
        ({"show": "unanswered"}, ["41-0005"]),
    ],
)
def test_the_list_is_narrowed(client, query, shown):
    to_decide("41-0001", model="intermittent")
    to_decide("41-0002", storeroom=StoreroomFactory(code="WEST"))
    to_decide("41-0003", importance="vital")
    to_decide("41-0004", state="accepted", changed=False)
    to_decide("41-0005", is_answered=False, changed=False)
    assert re.findall(r'href="/planning/\d+/">([^<]+)</a>', read(client, **query)) == shown


def test_an_unknown_filter_is_a_fault_of_its_field(client):
    text = read(client, storeroom="NOWHERE", model="tea leaves", page="many")
    assert '<a href="#storeroom">Choose one from the list' in text
    assert '<a href="#model">Choose one from the list' in text


def test_fifty_are_on_a_page_and_the_filter_stays(client):
    for count in range(51):
        to_decide(f"42-{count:04}", rate_per_year=51 - count)
    first = read(client, importance="essential")
    assert "42-0049" in first
    assert "42-0050" not in first
    assert 'href="?importance=essential&amp;page=2" rel="next"' in first
    assert "42-0050" in read(client, importance="essential", page="2")
    assert len(first.encode()) < LIGHT_BYTES


def test_the_number_of_queries_does_not_depend_on_the_recommendations(client):
    def queries():
        with CaptureQueriesContext(connection) as found:
            client.get("/planning/")
        return len(found)

    to_decide("41-0001")
    before = queries()
    for count in range(12):
        to_decide(f"42-{count:04}")
    assert queries() == before < 22


def test_a_run_under_way_shows_how_far_it_is(client):
    StockingRunFactory(state="running", total=660, done=120, started_by_name="marta")
    text = read(client)
    assert "120 of 660 parts" in text
    assert '<progress max="660" value="120" aria-label="Progress">' in text
    assert "Recalculate</button>" not in text


def test_times_are_those_of_the_storerooms(client):
    StockingRunFactory(finished_at="2026-11-25T06:00Z")
    StoreroomFactory(timezone="Europe/Berlin")
    StoreroomFactory(code="FAR", timezone="America/Chicago")
    StoreroomFactory(code="WEST", timezone="Europe/Berlin")
    assert "Last calculated 25 Nov 2026 07:00" in read(client)
    assert "Last calculated 25 Nov 2026 00:00" in read(client, storeroom="FAR")


def test_a_run_that_failed_says_why(client):
    StockingRunFactory(state="failed", error="It was interrupted.", finished_at="2026-11-25T06:00Z")
    assert "The last calculation failed" in read(client)


def test_a_run_started_from_the_page_is_carried_out_by_the_scheduler(client):
    PositionFactory()
    ItemFactory()
    StockPolicyFactory()
    answer = client.post("/planning/runs/")
    assert answer["Location"] == "/planning/"
    assert "Calculation running" in read(client)
    run_queued_jobs()
    assert Recommendation.objects.current().exists()
    assert "Last calculated" in read(client)


@pytest.mark.parametrize("role", ["viewer", "storeroom", "integration"])
def test_only_a_manager_recalculates_or_decides(role):
    record = to_decide()
    client = client_of(role)
    assert client.post("/planning/runs/").status_code == 403
    assert client.post(f"/planning/{record.pk}/", {"decision": "accept"}).status_code == 403
    assert "A maintenance manager has to decide." in read(client, f"/planning/{record.pk}/")


def decide(client, record, **form):
    return client.post(f"/planning/{record.pk}/", form)


def test_accepting_sets_the_policy_and_says_who(client):
    record = to_decide()
    assert decide(client, record, decision="accept").status_code == 302
    assert StockPolicy.objects.get().order_up_to == 2
    text = plain(read(client, f"/planning/{record.pk}/"))
    assert "Accepted by the manager" in text
    assert "Stock policy: reorder point 1, order up to 2 pieces, set by the manager" in text


def test_a_group_is_accepted_under_a_limit_and_taken_back_as_one(client):
    dear = to_decide("41-0001", evidence={"basis": "b", "figures": {"tied_up": "900.00"}})
    first, second = to_decide("41-0002"), to_decide("41-0003")
    stock(first.item, first.storeroom, 4)
    SupplyOrderFactory(item=first.item, storeroom=first.storeroom, quantity=3)
    to_decide("41-0004", evidence={})
    shown = read(client, "/planning/accept/", limit="120", change="begin")
    assert "2 recommendations: ties up 240 EUR, frees nothing" in plain(shown)
    assert "4 pieces 3 pieces 120 EUR" in plain(shown)
    assert "1 is left out" not in shown
    assert "1 is left out" in read(client, "/planning/accept/", change="begin")
    chosen = [one.pk for one in (first, second)]
    answer = client.post("/planning/accept/?limit=120", {"accept": chosen, "reason": "spring", "key": "k"})
    text = read(client, answer["Location"])
    assert "2 recommendations accepted" in text
    first.refresh_from_db()
    assert (first.state, first.decided_by_name, first.decision_reason) == (
        "accepted",
        "the manager",
        "spring",
    )
    assert StockPolicy.objects.count() == 2
    again = client.post("/planning/accept/", {"accept": [*chosen, dear.pk], "key": "other"})
    text = read(client, again["Location"])
    assert "1 recommendation accepted" in text
    assert "Not accepted: 41-0002: the manager has already decided it" in text
    client.post(
        "/counter/undo/",
        {"act": f"recommendation-reopen:{chosen[0]},{chosen[1]}", "key": "u", "then": "/planning/"},
    )
    assert "Undone." in read(client)
    assert StockPolicy.objects.get().item == dear.item
    assert client_of("storeroom").post("/planning/accept/", {"accept": chosen}).status_code == 403


def test_other_levels_are_set_with_their_reason(client):
    record = to_decide()
    decide(client, record, decision="amend", reorder_point="3", order_up_to="5", reason="Kiln rebuild in May")
    assert StockPolicy.objects.get().order_up_to == 5
    text = plain(read(client, f"/planning/{record.pk}/"))
    assert "Amended by the manager" in text
    assert "Kiln rebuild in May" in text


def test_none_is_kept_for_a_reason(client):
    record = to_decide()
    decide(client, record, decision="none", reason="The drive goes in spring")
    policy = StockPolicy.objects.get()
    assert (policy.stocked, policy.reorder_point, policy.order_up_to) == (False, -1, 0)


def test_declining_leaves_what_is_set(client):
    record = to_decide()
    StockPolicyFactory(item=record.item, storeroom=record.storeroom)
    decide(client, record, decision="decline", reason="Two lie in the hall")
    assert StockPolicy.objects.get().order_up_to == 1
    assert "Declined by the manager" in plain(read(client, f"/planning/{record.pk}/"))


@pytest.mark.parametrize(
    ("form", "field", "sentence"),
    [
        ({"decision": "amend", "reorder_point": "two", "order_up_to": "5", "reason": "x"}, "amend-reorder-point", "whole number"),
        ({"decision": "amend", "reorder_point": "2", "order_up_to": "", "reason": "x"}, "amend-order-up-to", "whole number"),
        ({"decision": "amend", "reorder_point": "2", "order_up_to": "2", "reason": "x"}, "amend-order-up-to", "above reorder_point"),
        ({"decision": "amend", "reorder_point": "-2", "order_up_to": "2", "reason": "x"}, "amend-reorder-point", "0 or more"),
        ({"decision": "amend", "reorder_point": "2", "order_up_to": "4"}, "amend-reason", "Say why"),
        ({"decision": "decline", "reason": " "}, "decline-reason", "Say why"),
        ({"decision": "none"}, "none-reason", "Say why"),
        ({"decision": "shrug"}, "decide", "Choose one"),
    ],
)  # fmt: skip
def test_a_fault_is_shown_at_its_field_and_nothing_is_set(client, form, field, sentence):
    record = to_decide()
    text = text_of(decide(client, record, **form), 400)
    assert re.search(rf'<a href="#{field}">[^<]*{sentence}', text)
    assert f'id="{field}"' in text
    assert not StockPolicy.objects.exists()


def test_both_bad_fields_are_named_and_what_was_typed_stays(client):
    text = text_of(
        decide(client, to_decide(), decision="amend", reorder_point="two", order_up_to="", reason="why"), 400
    )
    assert "Reorder point must be a whole number.</a>" in text
    assert "Order up to must be a whole number.</a>" in text
    assert 'value="two"' in text
    assert 'value="why"' in text


def test_what_is_decided_is_not_decided_twice(client):
    record = to_decide()
    decide(client, record, decision="accept")
    text = text_of(decide(client, record, decision="decline", reason="late"), 409)
    assert "Nothing was changed." in text
    assert "has already decided it" in text


def test_one_with_missing_data_cannot_be_accepted(client):
    record = to_decide(
        is_answered=False, explanation=[fact("enter_lead_time_first", stock_number="41-0105").as_json()]
    )
    text = read(client, f"/planning/{record.pk}/")
    assert "Data is missing" in text
    assert 'value="accept"' not in text
    assert "enter the lead time of 41-0105" in read(client)


def test_one_out_of_date_leads_to_the_newest(client):
    old = to_decide(state="superseded")
    new = to_decide(item=old.item)
    assert f'href="/planning/{new.pk}/">Go to the current one' in read(client, f"/planning/{old.pk}/")


def test_an_unknown_one_is_not_found(client):
    assert client.get("/planning/4711/").status_code == 404


def test_a_bare_recommendation_still_reads(client):
    record = to_decide(evidence={"basis": "b"}, explanation=[])
    text = read(client, f"/planning/{record.pk}/")
    assert "No requests are recorded in this storeroom." in text
    assert "No position in use needs it now." in text


EVENT = {
    "at": "2025-03-05T06:30:00+00:00",
    "item": "41-0105",
    "given": None,
    "position": "STEEP-EL1-D1-DRV",
    "quantity": 1,
    "result": "not_filled",
    "work_order": "=1+1",
    "is_planned": False,
    "source": "request",
}
LIFE = {
    "position": "STEEP-EL1-D1-DRV",
    "item": "41-0105",
    "installed_at": "2022-03-05T06:30:00+00:00",
    "removed_at": "2025-03-05T06:30:00+00:00",
    "hours": 9000.0,
    "age_basis": "meter",
    "ended_by": "failure",
    "mechanism": "wear",
    "counts_as": "worn_out",
}
PROOF = {
    "basis": "b",
    "pool": {
        "members": ["41-0105", "S-1"],
        "record_from": "2020-01-01T00:00:00+00:00",
        "record_until": "2026-01-01T00:00:00+00:00",
        "positions": [
            {
                "position": "STEEP-EL1-D1-DRV",
                "drive": "STEEP-EL1-D1",
                "criticality": "vital",
                "years": 6.0,
                "pieces_unplanned": 1,
                "pieces_planned": 1,
            }
        ],
    },
    "events": [EVENT, EVENT | {"is_planned": True, "result": "filled", "given": "41-0105", "work_order": "WO-2"}],
    "lives": [LIFE, LIFE | {"removed_at": None, "hours": 4000.0, "ended_by": "", "mechanism": "", "counts_as": "running"}],
    "inspections": [
        {"position": "STEEP-EL1-D1-DRV", "reasons": [fact("meter_not_usable").as_json()], "notice_days": 90.0, "limit_on": "2026-12-24", "order_by": "2020-01-05"},
    ],
    "cover": [
        {"item": "41-0990", "grade": "with_work", "work_minutes": 45, "positions": 1, "pieces": 2, "averts": 0.12}
    ],
    "lead_time_law": [0.9, 0.08, 0.02],
}  # fmt: skip


def test_it_opens_down_to_its_events(client):
    text = read(client, f"/planning/{to_decide(evidence=PROOF).pk}/")
    for words in (
        "yes, although not filled",
        "no: planned, ordered for its job",
        "worn out: counts as a failure",
        "still running",
        "Order now: it should have been ordered by 5 Jan 2020",
        "The meter ran backwards or stood still, so the calendar was used.",
        'href="/items/41-0990/"',
        "enough in 98 %",
    ):
        assert words in text
    assert "half last longer than 9,000 h" in text


def test_the_events_come_as_a_file_that_no_spreadsheet_computes(client):
    answer = client.get(f"/planning/{to_decide(evidence=PROOF).pk}/events.csv")
    lines = b"".join(answer.streaming_content).decode().splitlines()
    assert answer["Content-Type"].startswith("text/csv")
    assert lines[0].startswith("at,item,given,position,quantity,result,work_order")
    assert ",'=1+1," in lines[1]
    assert len(lines) == 3


def test_what_a_record_says_is_never_markup(client):
    record = to_decide(explanation=[fact("recorded_text", text="<script>alert(1)</script>").as_json()])
    assert "<script>alert" not in read(client, f"/planning/{record.pk}/")


def test_long_histories_stay_light_and_say_what_is_left_out(client):
    many = PROOF | {"events": [EVENT] * 300, "lives": [LIFE] * 300}
    text = read(client, f"/planning/{to_decide(evidence=many).pk}/")
    assert "the newest 60 shown" in text
    assert len(text.encode()) < LIGHT_BYTES


def test_an_administrator_may_decide():
    client = Client()
    client.force_login(AdminFactory())
    assert decide(client, to_decide(), decision="accept").status_code == 302


def test_the_reasons_of_a_fit_are_read_as_sentences(client):
    reason = {"code": "failures_only_at_longest_life", "values": {"failures": 6, "hours": 4100.0}}
    fit = {"shape": None, "scale_hours": None, "mean_life_hours": None, "reasons": [reason]}
    record = to_decide(evidence={"basis": "b", "figures": {}, "fit": fit})
    text = plain(read(client, f"/planning/{record.pk}/"))
    assert "All 6 failures came at the longest life, 4100 h: no shape can be estimated." in text


def test_what_is_no_longer_kept_frees_what_is_there(client):
    item = ItemFactory(stock_number="41-0105", unit_cost=Decimal("7.50"), currency="EUR")
    today = {"stocked": True, "reorder_point": 0, "order_up_to": 1}
    none = {
        "stocked": False,
        "reorder_point": -1,
        "order_up_to": 0,
        "evidence": {"basis": "b"},
        "today": today,
    }
    found = to_decide(item=item, currency="EUR", **none)
    stock(item, found.storeroom, 2)
    text = plain(text_of(client.get("/planning/")))
    assert "15 EUR" in text
    assert "no value" not in text
    assert "41-0105" in text_of(client.get("/planning/accept/?change=end&limit=0"))

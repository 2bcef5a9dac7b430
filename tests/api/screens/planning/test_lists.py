import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.contrib.auth.models import Group
from django.test import Client
from django.utils import timezone

from api.edge.scope import limit_to
from api.models import BackgroundJob
from api.screens.planning import budget
from inventory.plumbing.leases import take
from tests.factories import (
    DriveFactory,
    DrivenFactory,
    InstallationFactory,
    ItemFactory,
    PlantFactory,
    PositionFactory,
    RecommendationFactory,
    RequestFactory,
    StockingTermsFactory,
    StockPolicyFactory,
    StoreroomFactory,
    TransferTimeFactory,
    UserFactory,
    stock,
)
from tests.jobs import forget_answers, get_calculated, run_queued_jobs
from tests.movements import issue
from tests.stored_demand import calculate_demands

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(db):
    user = UserFactory()
    user.groups.add(Group.objects.get_or_create(name="viewer")[0])
    client = Client()
    client.force_login(user)
    return client


def read(client, address, **query):
    answer = get_calculated(client, address, query)
    assert answer.status_code == 200, answer.content
    return " ".join(answer.content.decode().split())


def plain(html):
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


@pytest.fixture
def place(db):
    """A vital place whose part fails, with one of it on the shelf."""
    StockingTermsFactory(hours_to_expedite=48.0)
    drive = DriveFactory(tag="STEEP-EL1-D1", criticality="vital", downtime_cost_per_hour=Decimal(900))
    position = PositionFactory(tag="STEEP-EL1-D1-DRV", drive=drive)
    item = ItemFactory(stock_number="41-0105", lead_time_days=21)
    InstallationFactory(position=position, item=item)
    RequestFactory(item=item, position=position, at=datetime(2025, 3, 5, tzinfo=UTC))
    return position


def calculate(client):
    user = UserFactory(username="ines")
    user.groups.add(Group.objects.get_or_create(name="manager")[0])
    manager = Client()
    manager.force_login(user)
    assert manager.post("/planning/runs/").status_code == 302
    run_queued_jobs()


@pytest.mark.parametrize("address", ["/planning/exposure/", "/planning/reorder/"])
def test_a_stranger_is_sent_to_the_login(address):
    assert Client().get(address)["Location"] == f"/login/?next={address}"


def test_without_places_it_says_what_comes(client):
    assert "No position is recorded yet." in read(client, "/planning/exposure/")


def test_a_position_without_a_part_shows_its_cost_and_that_none_is_available(client, place):
    calculate(client)
    text = plain(read(client, "/planning/exposure/"))
    assert "a stop waits 48 h" in text
    row = text[text.index("STEEP-EL1-D1-DRV") :]
    assert "Vital" in row
    assert "900 EUR an hour" in row
    assert "in 21 days" in row
    assert "41-0105 drop-in: none available" in row


def test_stock_of_another_storeroom_has_to_be_transferred(client, place):
    calculate(client)
    stock(place.installations.get().item, StoreroomFactory(code="FAR"), 2)
    text = plain(read(client, "/planning/exposure/"))
    assert "2 in FAR (no transfer time recorded)" in text
    assert "Only in another storeroom" in text
    TransferTimeFactory(
        from_storeroom=StoreroomFactory(code="FAR"), to_storeroom=StoreroomFactory(), minutes=6
    )
    forget_answers()
    assert "2 in FAR (6 min away)" in plain(read(client, "/planning/exposure/"))
    assert "The nearest piece is in FAR, 6 minutes away." in plain(
        read(client, "/positions/STEEP-EL1-D1-DRV/")
    )


def test_a_position_without_any_fitting_item_says_so(client, place):
    DrivenFactory(tag="STEEP-EL1-D1-DVN", drive=place.drive)
    assert "No item in the catalogue serves STEEP-EL1-D1-DVN" in read(client, "/planning/exposure/")


def test_positions_are_filtered_by_criticality(client, place):
    PositionFactory(tag="KILN-C1-D1-DRV", drive=DriveFactory(tag="KILN-C1-D1", criticality="desirable"))
    text = read(client, "/planning/exposure/", importance="desirable")
    assert "KILN-C1-D1-DRV" in text
    assert "STEEP-EL1-D1-DRV" not in text


def test_the_answer_is_shown_to_everybody_until_it_is_calculated_again(client, place):
    read(client, "/planning/exposure/")
    PositionFactory(tag="KILN-C1-D1-DRV", drive=DriveFactory(tag="KILN-C1-D1"))
    other = Client()
    other.force_login(UserFactory(username="jonas"))
    text = read(other, "/planning/exposure/")
    assert "KILN-C1-D1-DRV" not in text
    again = unescape(re.search(r'href="([^"]*calculated_after[^"]*)"', text)[1])
    assert "KILN-C1-D1-DRV" in read(client, "/planning/exposure/" + again)
    assert "KILN-C1-D1-DRV" in read(other, "/planning/exposure/")


def test_what_one_caller_may_see_is_not_shown_to_another(client, place):
    read(client, "/planning/exposure/")
    user = UserFactory(username="jonas")
    limit_to({"user": user}, [PlantFactory(code="MILL")], [StoreroomFactory(code="NORTH")])
    other = Client()
    other.force_login(user)
    assert "No position is recorded yet." in read(other, "/planning/exposure/")


def test_until_it_is_there_the_page_says_since_when_and_how_long(client, place):
    text = client.get("/planning/exposure/").content.decode()
    assert re.search(r"Being calculated since\s+\d\d:\d\d", text)
    assert "usually takes about 7 s" in text
    assert re.search(r'<meta http-equiv="refresh" content="\d+">', text)
    assert "No scheduler is running" in text
    take("scheduler", "one", 60)
    assert "No scheduler is running" not in client.get("/planning/exposure/").content.decode()


def test_while_it_is_calculated_the_page_says_how_much_is_done_as_the_job_does(client, place):
    assert "<progress" not in client.get("/planning/exposure/").content.decode()
    BackgroundJob.objects.update(state="running", done=34, total=100)
    text = " ".join(client.get("/planning/exposure/").content.decode().split())
    assert '<progress max="100" value="34" aria-label="Progress"></progress> 34 % done.' in text
    job = client.get(f"/api/v1/jobs/{BackgroundJob.objects.get().pk}/").json()
    assert (job["state"], job["done"], job["total"]) == ("running", 34, 100)


def test_an_older_answer_is_shown_while_it_is_calculated_again(client, place):
    read(client, "/planning/exposure/")
    BackgroundJob.objects.update(started_at=timezone.now() - timedelta(hours=27))
    text = client.get("/planning/exposure/").content.decode()
    assert "Until then the answer of" in text
    assert "STEEP-EL1-D1-DRV" in text


def test_a_calculation_that_failed_is_said_and_can_be_tried_again(client, place, monkeypatch):
    monkeypatch.setattr("api.answers.exposure.load_risk_inputs", lambda at: 1 / 0)
    text = read(client, "/planning/exposure/")
    assert "The calculation failed" in text
    assert "refresh" not in text
    monkeypatch.undo()
    again = unescape(re.search(r'href="([^"]*calculated_after[^"]*)"', text)[1])
    assert "STEEP-EL1-D1-DRV" in read(client, "/planning/exposure/" + again)


def to_order(number="41-0105", room=None, **values):
    item = ItemFactory(stock_number=number, unit_cost=Decimal("38.50"), **values)
    return StockPolicyFactory(item=item, storeroom=room or StoreroomFactory(), reorder_point=1, order_up_to=3)


def test_an_empty_reorder_list_says_why_it_may_be(client):
    text = read(client, "/planning/reorder/")
    assert "No item has fallen to its reorder point" in text
    assert "Only items with a stock policy" in text


def test_each_storeroom_has_its_list_with_its_sum(client):
    to_order("41-0105")
    to_order("41-0110", StoreroomFactory(code="WEST"))
    to_order("41-0115", StoreroomFactory(code="WEST"))
    text = plain(read(client, "/planning/reorder/"))
    assert "MAIN Storeroom MAIN 1 to order, about 116 EUR" in text
    assert "WEST Storeroom WEST 2 to order, about 231 EUR" in text


def test_a_page_of_the_list_has_the_sum_of_the_whole_list(client, monkeypatch):
    monkeypatch.setattr("api.screens.planning.reorder.PAGE_LINES", 1)
    for number in ("41-0105", "41-0110"):
        to_order(number)
    assert "The sums of the whole list are being calculated." in read(client, "/planning/reorder/")
    run_queued_jobs()
    text = plain(read(client, "/planning/reorder/"))
    assert "1 to order on this page, about 116 EUR" in text
    assert re.search(r"Whole list as of [^:]+:\d\d: 2 items to order, about 231 EUR", text)


def test_one_storeroom_is_shown_alone_with_its_file(client):
    to_order("41-0105")
    to_order("41-0110", StoreroomFactory(code="WEST"))
    text = read(client, "/planning/reorder/", storeroom="WEST")
    assert "41-0110" in text
    assert "41-0105" not in text
    assert client.get("/api/v1/reorder-list/", {"storeroom": "WEST", "format": "csv"}).status_code == 200
    assert 'href="/api/v1/reorder-list/?storeroom=WEST&amp;format=csv"' in text


def test_a_part_without_a_price_is_counted_apart(client):
    policy = to_order()
    policy.item.unit_cost = None
    policy.item.save()
    assert "1 to order, 1 without a price" in plain(read(client, "/planning/reorder/"))


def test_lent_pieces_are_expected_back_first(client):
    policy = to_order()
    stock(policy.item, policy.storeroom, 2)
    issue(
        policy.item,
        policy.storeroom,
        2,
        by="marta",
        work_order="WO-1",
        expected_back_on=datetime(2099, 1, 5).date(),
    )
    text = plain(read(client, "/planning/reorder/"))
    assert "Not yet: lent pieces are expected back first" in text
    assert "0 to order" in text


def test_of_a_part_in_many_storerooms_the_nearest_are_named(client, place):
    home, item = place.drive.equipment.area.plant.storeroom, place.installations.get().item
    for minutes in (50, 40, 30, 20, 10):
        room = StoreroomFactory(code=f"R-{minutes}")
        TransferTimeFactory(from_storeroom=room, to_storeroom=home, minutes=minutes)
        stock(item, room, 1)
    calculate(client)
    text = plain(read(client, "/planning/exposure/"))
    assert (
        "1 in R-10 (10 min away), 1 in R-20 (20 min away), 1 in R-30 (30 min away) and in 2 more storerooms"
        in text
    )


@pytest.fixture
def worth_buying(place):
    """The part of the vital place has a price; another has none."""
    item = place.installations.get().item
    item.unit_cost = Decimal("38.50")
    item.save()
    bare = PositionFactory(tag="KILN-C1-D1-DRV", drive=DriveFactory(tag="KILN-C1-D1", criticality="vital"))
    part = ItemFactory(stock_number="41-0990", unit_cost=None, lead_time_days=21)
    InstallationFactory(position=bare, item=part)
    RequestFactory(item=part, position=bare)
    calculate_demands()
    return item


def test_an_amount_is_asked_for_before_anything_is_calculated(client, django_assert_max_num_queries):
    with django_assert_max_num_queries(5):
        assert "For an amount, the purchases" in read(client, "/planning/budget/")


@pytest.mark.parametrize("budget", ["much", "-5", "12.50", "1e9", "9999999999"])
def test_an_amount_that_cannot_be_read_is_a_fault_of_its_field(client, budget):
    text = read(client, "/planning/budget/", budget=budget)
    assert re.search(r'<a href="#budget">Enter (a whole amount|at most)', text)
    assert client.get("/planning/budget.csv", {"budget": budget}).status_code == 400


@pytest.mark.parametrize("budget", ["1000", "1,000", "1 000"])
def test_purchases_are_listed_in_order_with_the_downtime_left(client, worth_buying, budget):
    text = plain(read(client, "/planning/budget/", budget=budget))
    first = text[text.index("Buy in this order") :]
    assert re.search(r"1 41-0105 .*? MAIN 1 1 38.50 38 ", first)
    assert "1 item: Its price is not known: enter the price." in text
    assert "today " in text


def test_where_nothing_can_be_calculated_it_says_what_to_enter(client):
    assert "start a stocking run</a> first" in read(client, "/planning/budget/", budget="1000")
    InstallationFactory(item=ItemFactory(unit_cost=None))
    calculate_demands()
    forget_answers()
    assert "Nothing can be calculated yet" in read(client, "/planning/budget/", budget="1000")


def test_the_buys_come_as_a_file(client, worth_buying):
    assert (
        client.get("/planning/budget.csv", {"budget": "1000"})["Location"] == "/planning/budget/?budget=1000"
    )
    run_queued_jobs()
    answer = client.get("/planning/budget.csv", {"budget": "1000"})
    lines = b"".join(answer.streaming_content).decode().splitlines()
    assert lines[0].startswith("order,item,storeroom,pieces")
    assert lines[1].startswith("1,41-0105,MAIN,1,1,38.5,38.5,")


def test_the_page_of_a_budget_shows_the_first_lines_and_leads_to_all(client, worth_buying, monkeypatch):
    monkeypatch.setattr(budget, "MOST_SHOWN", 1)
    monkeypatch.setattr(budget, "PAGE_LINES", 2)
    text = read(client, "/planning/budget/", budget="1000")
    assert len(re.findall(r'<td class="n"><strong>', text)) == 1
    address, count = re.search(
        r'href="(/planning/budget/buys/\?budget=1000)">\s*All (\d+) purchases', text
    ).groups()
    pages = [plain(read(client, f"{address}&page={page}")) for page in (1, 2)]
    assert f"Page 1 of {-(-int(count) // 2)}" in pages[0]
    assert [re.findall(r" (\d+) 41-0105 ", page) for page in pages] == [["1", "2"], ["3", "4"]]
    assert "STEEP-EL1-D1" in read(client, "/planning/budget/drives/", budget="1000")


def test_what_a_budget_leaves_out_is_listed_by_reason(client, worth_buying):
    ItemFactory(stock_number="41-0991")
    text = read(client, "/planning/budget/", budget="1000")
    address = re.search(r'href="(/planning/budget/left-out/\?budget=1000&amp;code=price_not_known)"', text)[1]
    listed = plain(read(client, address.replace("&amp;", "&")))
    assert "41-0990 MAIN Its price is not known: enter the price." in listed
    assert "Nothing is in this list." in read(client, "/planning/budget/left-out/?budget=1000&code=none_such")


@pytest.mark.parametrize("name", ["buys", "drives", "left-out"])
def test_a_list_of_a_budget_leads_to_the_budget_until_it_is_calculated(client, worth_buying, name):
    address = f"/planning/budget/{name}/"
    assert client.get(address, {"budget": "1000"})["Location"] == "/planning/budget/?budget=1000"
    assert client.get(address, {"budget": "much"})["Location"] == "/planning/budget/?budget=much"
    run_queued_jobs()
    assert client.get(address, {"budget": "1000"}).status_code == 200


def test_one_budget_is_calculated_once_however_it_is_written(client, worth_buying):
    read(client, "/planning/budget/", budget="1000")
    worth_buying.unit_cost = Decimal("99.00")
    worth_buying.save()
    assert "99.00" not in read(client, "/planning/budget/", budget="1,000")
    forget_answers()
    assert "99.00" in read(client, "/planning/budget/", budget="1000")


def test_an_item_shows_its_policy_and_its_recommendation(client):
    policy = to_order()
    waiting = RecommendationFactory(item=policy.item, storeroom=policy.storeroom)
    west = {"kept_in": {"storeroom_id": policy.storeroom_id, "storeroom": "MAIN", "minutes": 6}}
    RecommendationFactory(
        item=policy.item, storeroom=StoreroomFactory(code="WEST"), state="accepted", evidence=west
    )
    text = read(client, "/items/41-0105/")
    assert "Stock policy in MAIN: reorder point 1, order up to 3 pieces ." in plain(text)
    assert f'href="/planning/{waiting.pk}/">Recommended: reorder point 1, order up to 2 pieces</a>' in text
    assert "Stock policy in WEST: none. Kept in MAIN for this storeroom too. Show details" in plain(text)


def test_a_position_shows_the_policy_of_its_item_and_its_risk(client, place):
    StockPolicyFactory(item=place.installations.get().item)
    text = read(client, "/positions/STEEP-EL1-D1-DRV/")
    assert "Stock policy in MAIN: reorder point 0, order up to 1 piece ." in plain(text)
    assert "Show positions at risk" in text
    calculate(client)
    read(client, "/planning/exposure/")
    assert "Risk of a stop without a part:" in read(client, "/positions/STEEP-EL1-D1-DRV/")

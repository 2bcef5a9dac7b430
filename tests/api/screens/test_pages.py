import json
import re
from datetime import UTC, datetime

import pytest
from django.contrib.auth import get_user_model
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from api.screens import stories
from drives.models import Drive, Plant
from tests.factories import (
    BushedSprocketFactory,
    DriveFactory,
    DrivenFactory,
    IdlerFactory,
    InspectionFactory,
    InstallationFactory,
    ItemFactory,
    OpeningHoursFactory,
    PilotBoredFactory,
    PositionFactory,
    SprocketFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    UserFactory,
    stock,
)
from tests.pages import signed_in

pytestmark = pytest.mark.django_db
LIGHT_BYTES = 85_000
"""What is left of 100 kB for the page itself beside its style sheets and script."""


@pytest.fixture
def client(db) -> Client:
    client = Client()
    client.force_login(UserFactory())
    return client


@pytest.fixture
def position(db):
    """The driver of the steep elevator; its storeroom and shop are always open."""
    position = PositionFactory(tag="STEEP-EL1-D1-DRV", drive__tag="STEEP-EL1-D1")
    DrivenFactory(tag="STEEP-EL1-D1-DVN", drive=position.drive)
    for weekday in range(7):
        OpeningHoursFactory(storeroom=StoreroomFactory(), weekday=weekday, opens="00:00", closes="00:00")
    return position


def on_shelf(number, specification=None, quantity=1, **attributes):
    item = ItemFactory(stock_number=number, specification=specification or SprocketFactory(**attributes))
    stock(item, StoreroomFactory(), quantity)
    return item


def read(client, address, **query):
    answer = client.get(address, query)
    assert answer.status_code == 200, answer.content
    return " ".join(answer.content.decode().split())


def at(client, **query):
    return read(client, "/positions/STEEP-EL1-D1-DRV/", **query)


@pytest.mark.parametrize("address", ["/", "/hits/", "/positions/X/", "/drives/X/", "/items/X/"])
def test_a_stranger_is_sent_to_the_login(address):
    answer = Client().get(address)
    assert (answer.status_code, answer["Location"]) == (302, f"/login/?next={address}")


def test_the_login_page_needs_no_login():
    assert "User name" in read(Client(), "/login/")


def test_login_goes_on_to_where_one_was_going(position):
    get_user_model().objects.create_user("jonas", password="the kiln is warm")
    answer = Client().post(
        "/login/", {"username": "jonas", "password": "the kiln is warm", "next": "/drives/STEEP-EL1-D1/"}
    )
    assert answer["Location"] == "/drives/STEEP-EL1-D1/"


def test_login_does_not_go_on_to_another_site():
    get_user_model().objects.create_user("jonas", password="the kiln is warm")
    answer = Client().post(
        "/login/", {"username": "jonas", "password": "the kiln is warm", "next": "https://elsewhere.example/"}
    )
    assert answer["Location"] == "/"


def test_what_is_wrong_with_a_login_links_to_its_field():
    text = " ".join(Client().post("/login/", {"username": "", "password": ""}).content.decode().split())
    assert '<a href="#id_username">Enter the user name.</a>' in text
    assert '<a href="#id_password">Enter the password.</a>' in text


def test_logging_out_takes_a_post(client):
    assert client.get("/logout/").status_code == 405
    assert client.post("/logout/")["Location"] == "/login/"
    assert client.get("/").status_code == 302


def test_examples_are_shown_only_where_their_tag_is_recorded(client, monkeypatch):
    row = {
        "story": "trap_08b_beside_40",
        "tag": "STEEP-EL1-D1-DRV",
        "stock_number": "",
        "what_to_see": "A trap.",
    }
    monkeypatch.setattr(stories, "_rows", lambda: (row,))
    assert "What this demo plant shows" not in read(client, "/")
    PositionFactory(tag="STEEP-EL1-D1-DRV")
    assert "Trap 08B beside 40." in read(client, "/")


def test_a_plant_without_stories_has_a_front_page(client, monkeypatch):
    monkeypatch.setattr(stories, "_rows", lambda: ())
    assert "Tag, stock number, bin, order, what the part is (12B 19T bore 35) or words" in read(client, "/")


def test_pages_are_only_read(client, position):
    for address in ("/", "/positions/STEEP-EL1-D1-DRV/", "/drives/STEEP-EL1-D1/"):
        assert client.post(address).status_code == 405


def test_an_unknown_address_links_to_the_search(client):
    answer = client.get("/positions/NOWHERE/")
    assert answer.status_code == 404
    assert 'href="/"' in answer.content.decode()


@pytest.mark.parametrize(
    "address", ["/positions/%00/", "/items/A%00B/", "/drives/%00/", "/?q=%00", "/hits/?q=a%00b"]
)
def test_nul_in_an_address_breaks_nothing(client, address):
    assert client.get(address).status_code in (200, 404)


def test_a_position_shows_its_requirement(client, position):
    InspectionFactory(position=position, elongation_percent="1.20", at=datetime(2026, 9, 15, 12, tzinfo=UTC))
    InstallationFactory(position=position, item=ItemFactory(stock_number="41-0105"))
    text = at(client)
    for words in (
        "08B, 1 strand",
        "25 mm, keyed",
        "8 mm wide, ISO 773",
        "1.2 % on 15 Sep 2026",
        "41-0105</a> since 4 Mar 2024",
    ):
        assert words in text


def test_an_inch_shaft_is_shown_as_its_fraction_with_mm(client, position):
    position.shaft_diameter_mm = "49.2125"
    position.save()
    assert "1 15/16 in (49.21 mm)" in at(client)


def test_a_drop_in_shows_its_stock_and_when_the_drive_runs(client, position):
    on_shelf("41-0105", quantity=2)
    text = at(client)
    assert "Best fit and soonest running" in text
    assert "Runs in about 1 h 10 min" in text
    assert '<td class="n"><strong>2</strong></td>' in text


def test_the_better_fit_and_the_sooner_one_are_both_at_the_top(client, position):
    ItemFactory(stock_number="41-0105", lead_time_days=21)
    on_shelf("41-0110", BushedSprocketFactory(teeth=17, bush_size="1610"))
    on_shelf("41-0115", PilotBoredFactory())
    text = at(client)
    top = text[text.index('class="top-candidates"') : text.index('class="tabs')]
    assert top.index("Best fit") < top.index("41-0105") < top.index("Lead time about 21 days")
    assert "41-0105" in text[text.index("Drop-in</span>") :]


def test_the_lookalike_comes_first_among_those_that_do_not_fit_with_its_reason(client, position):
    on_shelf("41-0105")
    on_shelf("41-0001", teeth=17, bore_mm="40", max_bore_mm="42", hub_diameter_mm="60")
    on_shelf("41-0990", chain_designation="08A")
    text = at(client)
    refused = text[text.index('class="unfit') :]
    assert refused.index("41-0990") < refused.index("41-0001")
    assert "roller" in refused[refused.index("41-0990") : refused.index("41-0001")]
    assert "41-0990" in text[text.index('class="lookalike"') : text.index('class="tabs')]


def test_rows_too_narrow_for_a_heavy_chain_are_warned_of_once(client, position):
    position.drive.chain_designation, position.drive.strands = "12AH", 2
    position.drive.save()
    position.envelope_outside_diameter_mm = position.envelope_length_through_bore_mm = None
    position.save()
    on_shelf("41-0275", chain_designation="12A", strands=2)
    text = at(client)
    lookalike = text[text.index('class="lookalike"') : text.index('class="tabs')]
    assert "41-0275" in lookalike
    assert lookalike.count("The rows do not line up") == 1


def test_the_grade_is_a_word_and_a_shape(client, position):
    on_shelf("41-0105")
    text = at(client)
    assert '<use href="#sign-drop_in"/></svg> Drop-in</span>' in text
    assert '<symbol id="sign-drop_in"' in text


def test_nothing_in_stock_says_what_can_be_done(client, position):
    item = ItemFactory(stock_number="41-0105", lead_time_days=21)
    stock(item, StoreroomFactory(), 2, condition="on_hold")
    text = at(client)
    assert "Nothing that fits is available in stock." in text
    assert "2 pieces in MAIN, on hold." in text
    assert "order it (about 21 days)" in text
    assert "Machine shop behind the kiln" in text


def test_what_is_on_order_is_said_where_none_is_available_and_not_ordered_again(client, position):
    item = ItemFactory(stock_number="41-0105", lead_time_days=84)
    promised = {"promised_on": "2020-03-05", "ordered_at": "2020-01-05T08:00:00Z"}
    SupplyOrderFactory(item=item, external_id="PO-7", quantity=2, status="open", **promised)
    for text in (at(client), read(client, "/items/41-0105/")):
        assert "2 on order for MAIN (PO-7), promised for 5 Mar 2020: overdue by" in text
    assert "order it (about" not in at(client)


def test_the_lead_time_of_own_orders_is_known_although_none_was_entered(client, position):
    item = ItemFactory(stock_number="41-0105", lead_time_days=None)
    for number in range(3):
        SupplyOrderFactory(
            item=item,
            external_id=f"PO-{number}",
            received_quantity=1,
            status="received",
            ordered_at="2020-01-05T08:00:00Z",
            received_at="2020-02-04T08:00:00Z",
        )
    assert "order it (about 30 days)" in at(client)
    assert "Lead time about 30 days." in read(client, "/items/41-0105/")


def test_a_storeroom_that_holds_one_back_is_not_said_to_have_none(client, position):
    StoreroomFactory(code="WEST", name="West shed")
    item = ItemFactory(stock_number="41-0105")
    stock(item, StoreroomFactory(code="NORTH", name="North shed"), 1, condition="on_hold")
    text = at(client)
    assert "None on record in West shed either." in text
    assert "1 piece in NORTH, on hold." in text


def test_nothing_in_the_catalogue_says_what_can_be_done(client, position):
    text = at(client)
    assert "Nothing in the catalogue fits this position." in text
    assert "Order by the requirement above" in text
    assert "/counter/ask/" not in text
    clerk = signed_in("storeroom", "clerk")
    form = clerk.get(re.findall(r'"(/counter/ask/[^"]+)"', at(clerk))[0].replace("&amp;", "&"))
    assert f'value="{position.tag}"' in form.content.decode()


def test_a_lifting_drive_offers_nothing_and_says_why(client, position):
    position.drive.lifting = True
    position.drive.save()
    on_shelf("41-0105")
    text = at(client)
    assert "This is a lifting drive: no substitute is offered." in text
    assert "Runs in about" not in text
    assert "Best fit and" not in text
    assert "Only the maker&#x27;s part" in text


def test_in_stock_only_leaves_out_what_would_have_to_be_bought(client, position):
    ItemFactory(stock_number="41-0105")
    on_shelf("41-0110", PilotBoredFactory())
    assert "41-0105" in at(client)
    assert "part-41-0105" not in at(client, shelf="1")


def test_another_time_changes_the_ready_time(client, position):
    on_shelf("41-0105")
    assert "28 Nov 2026 02:10, at the counter of MAIN" in at(client, at="2026-11-28T02:10")
    assert "at 03:20" in at(client, at="2026-11-28T02:10")


@pytest.mark.parametrize(
    "moment", ["soon", "2026-13-40T99:99", "9999-01-01T00:00", "2026-11-28T02:10%", "0001-01-01"]
)
def test_a_time_that_cannot_be_read_is_said_beside_its_field(client, position, moment):
    assert '<a href="#at">Enter date and time as' in at(client, at=moment)


def test_a_counter_that_is_not_there_is_said_beside_its_field(client, position):
    assert '<a href="#counter">There is no storeroom with this code' in at(client, counter="NOWHERE")


def test_one_part_opens_as_a_sheet_with_every_check_open(client, position):
    on_shelf("41-0105")
    on_shelf("41-0110", PilotBoredFactory())
    text = at(client, part="41-0110")
    assert "Fitting sheet" in text
    assert "<details open> <summary>" in text
    assert text.count("<article") == 1


def sheet_of(text: str) -> str:
    """What stands on the page before what is folded."""
    return text.partition("<main")[2].split("<details")[0]


def test_a_fitting_sheet_says_where_to_fetch_what_to_check_and_how_to_set_the_drive(client, position):
    on_shelf("41-0110", PilotBoredFactory(length_through_bore_mm=28))
    position.drive.centre_distance_mm = 1000
    position.drive.save()
    client.cookies["job_in_hand"] = json.dumps({"position": position.tag, "work_order": "WO-77"})
    text = at(client, part="41-0110")
    sheet = sheet_of(text)
    assert "Work order WO-77" in sheet
    assert "28 mm" in sheet
    assert "Slack: 40 mm to 60 mm" in sheet
    assert "reorder point" not in text
    Plant.objects.update(substitute_approver="Ines Okafor", substitute_approver_phone="+49 561 4711")
    doubtful = sheet_of(at(client, part=on_shelf("41-0112", SprocketFactory(bore_mm=None)).stock_number))
    told = [
        doubtful.index(one)
        for one in ("Check in the hand", "Before you remove", 'href="tel:+495614711"', "4. Work")
    ]
    assert told == sorted(told)
    assert 'href="tel:' not in sheet
    unfit = at(client, part=on_shelf("41-0115", SprocketFactory(chain_designation="08A")).stock_number)
    assert "do not fit it" in sheet_of(unfit)
    assert "Fetch" not in sheet_of(unfit)


def test_a_sheet_of_a_lifting_drive_sends_nobody_for_a_substitute(client, position):
    Drive.objects.filter(pk=position.drive_id).update(lifting=True)
    on_shelf("41-0110", PilotBoredFactory())
    sheet = sheet_of(at(client, part="41-0110"))
    assert "unless the person responsible for the hoist says so" in sheet
    assert "Fetch" not in sheet
    assert "Set the drive" not in sheet


def test_a_sheet_of_an_unknown_part_is_not_found(client, position):
    assert client.get("/positions/STEEP-EL1-D1-DRV/", {"part": "NIX"}).status_code == 404


def test_what_a_record_says_is_never_markup(client, position):
    item = on_shelf("41-0105")
    item.description = "<script>alert(1)</script>"
    item.save()
    assert "<script>alert" not in at(client)
    assert "&lt;script&gt;alert" in at(client)


def queries_of(client, address):
    with CaptureQueriesContext(
        connection,
    ) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def test_the_number_of_queries_does_not_depend_on_the_candidates(client, position):
    on_shelf("41-0105")
    before = queries_of(client, "/positions/STEEP-EL1-D1-DRV/")
    for count in range(12):
        on_shelf(f"42-{count:04}", PilotBoredFactory())
        on_shelf(f"43-{count:04}", chain_designation="08A")
    assert queries_of(client, "/positions/STEEP-EL1-D1-DRV/") == before
    assert before < 30


def test_many_candidates_stay_light_and_can_all_be_shown(client, position):
    for count in range(40):
        on_shelf(f"42-{count:04}", PilotBoredFactory())
        on_shelf(f"43-{count:04}", chain_designation="08A")
    text = at(client)
    assert len(text.encode()) < LIGHT_BYTES
    assert "Show 23 more that may fit" in text
    assert "Show 32 more that do not fit" in text
    assert "42-0039" in at(client, all="1")


def test_an_idler_shows_its_least_number_of_teeth(client, position):
    IdlerFactory(tag="STEEP-EL1-D1-IDL", drive=position.drive, shaft_diameter_mm=20)
    assert "13 or more" in read(client, "/positions/STEEP-EL1-D1-IDL/")


def test_a_drive_is_drawn_and_its_positions_are_links(client, position):
    text = read(client, "/drives/STEEP-EL1-D1/")
    assert '<svg class="drawing"' in text
    assert "centre distance 500 mm" in text
    assert 'href="/positions/STEEP-EL1-D1-DVN/"' in text


def test_a_drive_without_centres_says_why_it_is_not_drawn(client):
    DriveFactory(tag="BARE", centre_distance_mm=None)
    text = read(client, "/drives/BARE/")
    assert "Not drawn" in text
    assert "No position is recorded on this drive yet" in text


def test_a_drive_shows_pairs_that_keep_its_ratio(client, position):
    Drive.objects.update(centre_adjustment_min_mm=-20, centre_adjustment_max_mm=20)
    position.drive.positions.filter(role="driven").update(envelope_outside_diameter_mm=230)
    on_shelf("41-0105", teeth=16)
    on_shelf("41-0110", teeth=48)
    text = read(client, "/drives/STEEP-EL1-D1/")
    assert "Changing both sprockets together" in text
    pair = text[text.index('id="pairs"') : text.index('id="numbers"')]
    for shown in (
        "Needs review",
        "+0.00",
        "166.7 rev/min",
        "chain stays",
        "1 available in MAIN",
        "guard:",
        "room for 90.0 mm",
    ):
        assert shown in pair
    assert "Before you remove the guard" in pair


def test_an_item_shows_what_to_measure_its_stock_and_its_positions(client, position):
    item = on_shelf("41-0105")
    InstallationFactory(position=position, item=item)
    on_shelf("41-0110", PilotBoredFactory())
    text = read(client, "/items/41-0105/")
    assert "Caliper diameter over the tooth gaps" in text
    assert 'href="/positions/STEEP-EL1-D1-DRV/"' in text
    assert "41-0110" in text[text.index("Substitutes</h2>") :]


def test_a_part_without_a_specification_says_what_to_do(client):
    ItemFactory(stock_number="90-0105", specification=None)
    assert "Measure it" in read(client, "/items/90-0105/")


def test_a_replaced_part_leads_to_its_successor(client):
    ItemFactory(stock_number="41-0105", lifecycle="run_down", replaced_by=ItemFactory(stock_number="41-0999"))
    text = read(client, "/items/41-0105/")
    assert "This item is run down." in text
    assert 'href="/items/41-0999/"' in text


def test_names_with_a_slash_have_an_address(client, position):
    on_shelf("SPKT/08B 17")
    answer = client.get("/", {"q": "spkt 08b17"}, follow=True)
    assert answer.redirect_chain == [("/items/SPKT/08B%2017/", 302)]
    assert answer.status_code == 200

"""Acts of the counter: each is one request of the API, books once, reports itself and can be undone."""

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from api.screens.counter.forms import ACTS
from api.wording.recorded_reasons import UNDONE_AT_COUNTER
from drives.models import Position, Request, WorkOrder
from inventory.models import CountTask, Item, Reservation, StockEntry, StockLevel, StockPiece
from tests import movements
from tests.factories import (
    BinFactory,
    ChainFactory,
    ChainItemFactory,
    ItemFactory,
    PositionFactory,
    SprocketFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    stock,
)
from tests.pages import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def clerk() -> Client:
    return signed_in("storeroom")


@pytest.fixture
def place() -> Position:
    position: Position = PositionFactory(tag="STEEP-EL1-D1-DRV", drive__tag="STEEP-EL1-D1")
    return position


@pytest.fixture
def item() -> Item:
    part: Item = ItemFactory(stock_number="SPR-1", specification=SprocketFactory())
    stock(part, StoreroomFactory(), 3)
    return part


def on_hand(item: Item) -> int:
    return sum(StockLevel.objects.filter(item=item).values_list("on_hand", flat=True))


def filled(client: Client, name: str, **asked: str) -> dict[str, str]:
    """The form as the page gives it: every field with its value."""
    page = client.get(f"/counter/{name}/", asked).content.decode()
    form = page.partition("data-send")[2].partition("</form>")[0]
    found = {}
    for tag in re.findall(r"<input[^>]*>", form):
        attributes = dict(re.findall(r'(\w+)="([^"]*)"', tag))
        if attributes["type"] == "radio" and " checked" not in tag:
            continue
        found[attributes["name"]] = unescape(attributes.get("value", ""))
    for select in re.findall(r"<select.*?</select>", form, re.S):
        chosen = re.search(r'value="([^"]*)" selected', select) or re.search(r'value="([^"]*)"', select)
        found[re.findall(r'name="(\w+)"', select)[0]] = unescape(chosen[1]) if chosen else ""
    del found["csrfmiddlewaretoken"]
    return found


def send(client: Client, name: str, fields: dict[str, str]) -> Any:
    return client.post(f"/counter/{name}/", fields)


def report_of(client: Client) -> str:
    return " ".join(client.get("/counter/shift/").content.decode().split())


def undo_last(client: Client) -> None:
    """By the button of the line that reports the act."""
    page = client.get("/identify/").content.decode()
    act = re.search(r'name="act" value="([^"]+)"', page)
    key = re.search(r'name="key" value="([^"]+)"', page)
    assert act, page
    assert key, page
    client.post("/counter/undo/", {"act": unescape(act[1]), "key": key[1]})


def test_an_issue_is_filled_in_reported_and_undone(clerk: Client, item: Item, place: Position) -> None:
    form = filled(clerk, "issue", item="SPR-1", position=place.tag, then="/identify/")
    answer = send(clerk, "issue", form | {"quantity": "2", "work_order": "WO-7"})
    assert (answer.status_code, answer["Location"]) == (302, "/identify/")
    issue = StockEntry.objects.latest("id")
    assert (issue.kind, issue.change, issue.position, issue.work_order) == ("issue", -2, place.tag, "WO-7")
    assert issue.recorded_verdict.grade == "drop_in"
    undo_last(clerk)
    assert on_hand(item) == 3
    assert "Undone." in report_of(clerk)
    assert StockEntry.objects.latest("id").reason == UNDONE_AT_COUNTER
    clerk.cookies["language"] = "de"
    for shown in ("movements/", "movements.csv"):
        answer = clerk.get(f"/lists/{shown}", {"ordering": "-id"})
        text = b"".join(answer) if answer.streaming else answer.content
        assert "An der Ausgabe rückgängig gemacht" in text.decode()


def test_the_report_says_that_a_message_of_the_order_has_booked_the_item(clerk: Client, item: Item) -> None:
    room = StockLevel.objects.get(item=item).storeroom
    movements.issue(item, room, 1, by="cmms", work_order="WO-7", reference="wo:0f:1")
    send(clerk, "issue", filled(clerk, "issue", item="SPR-1") | {"work_order": "WO-7"})
    assert "has booked SPR-1 for WO-7 already: 1 by movement" in report_of(clerk)


def reports_on(client: Client) -> int:
    return client.get("/identify/").content.decode().count("data-report")


ALL_OF_IT = {
    "issue": {"quantity": "3"},
    "reserve": {"quantity": "3", "work_order": "WO-7"},
    "return": {},
    "count": {"counted": "0"},
    "not-there": {},
    "found": {"quantity": "4"},
    "transfer": {"quantity": "3", "to_storeroom": "ANNEX"},
    "receive": {"quantity": "1", "reason": "found behind the kiln"},
    "scrap": {"quantity": "3", "reason": "rusty"},
    "ask": {},
}
"""What empties the shelf, where the act can: then it is no more on the form that is sent again."""


@pytest.mark.parametrize("act", ACTS)
def test_an_act_that_is_sent_twice_is_done_and_reported_once(act: str, clerk: Client, item: Item) -> None:
    StoreroomFactory(code="ANNEX", name="Annex")
    room = StockLevel.objects.get(item=item).storeroom.code
    form = filled(clerk, act, item="SPR-1", storeroom=room) | ALL_OF_IT[act]
    assert send(clerk, act, form).status_code == 302
    booked = on_hand(item), StockEntry.objects.count(), Reservation.objects.count(), Request.objects.count()
    assert send(clerk, act, form).status_code == 302
    assert booked == (
        *(on_hand(item), StockEntry.objects.count()),
        *(Reservation.objects.count(), Request.objects.count()),
    )
    assert reports_on(clerk) == 1
    # The answer got lost with its report: the repeat says what was done.
    assert send(clerk, act, form).status_code == 302
    assert reports_on(clerk) == 1


def test_two_acts_alike_are_two_reports_and_an_undo_sent_twice_is_one(clerk: Client, item: Item) -> None:
    for form in [filled(clerk, "issue", item="SPR-1") for _ in range(2)]:
        send(clerk, "issue", form)
    assert reports_on(clerk) == 2
    last = StockEntry.objects.latest("pk").pk
    for _ in range(2):
        clerk.post("/counter/undo/", {"act": f"movement-reverse:{last}", "key": "k"})
    assert (on_hand(item), reports_on(clerk)) == (2, 1)


def test_the_piece_of_chain_that_was_taken_whole_is_issued_once(clerk: Client) -> None:
    item = chain_in_stock("CHAIN-1", "08B")
    piece = StockPiece.objects.get(level__item=item)
    form = filled(clerk, "issue", item="CHAIN-1", storeroom="MAIN", piece=str(piece.pk))
    assert form["shelf"].endswith(f"/{piece.pk}")
    for _ in range(2):
        assert send(clerk, "issue", form | {"quantity": "120"}).status_code == 302
    assert (lengths(item), reports_on(clerk)) == ([], 1)


def test_a_shelf_that_somebody_emptied_meanwhile_is_refused_with_what_can_be_done(
    clerk: Client, item: Item
) -> None:
    form = filled(clerk, "issue", item="SPR-1")
    send(clerk, "scrap", filled(clerk, "scrap", item="SPR-1") | ALL_OF_IT["scrap"])
    refused = send(clerk, "issue", form)
    assert refused.status_code == 409
    assert "/counter/found/" in refused.content.decode()
    other = send(clerk, "issue", form | {"shelf": "NOWHERE/new", "key": "k"})
    assert (other.status_code, on_hand(item)) == (400, 0)


def test_a_part_that_does_not_fit_leaves_only_with_reason_and_name(
    clerk: Client, item: Item, place: Position
) -> None:
    wrong = ItemFactory(stock_number="SPR-2", specification=SprocketFactory(teeth=40))
    stock(wrong, StoreroomFactory(), 1)
    form = filled(clerk, "issue", item="SPR-2", position=place.tag)
    assert {"reason", "allowed_by"} <= form.keys()
    refused = send(clerk, "issue", form).content.decode()
    assert (on_hand(wrong), "Does not fit" in refused, "Nothing was booked" in refused) == (1, True, True)
    send(clerk, "issue", form | {"reason": "until noon", "allowed_by": "I. Brandt"})
    issue = StockEntry.objects.latest("id")
    assert (on_hand(wrong), issue.reason) == (0, "until noon (allowed by I. Brandt)")
    assert issue.recorded_verdict.grade == "unfit"


def test_a_refusal_keeps_what_was_entered_and_offers_what_helps(clerk: Client, item: Item) -> None:
    form = filled(clerk, "issue", item="SPR-1") | {"quantity": "5", "work_order": "WO-7"}
    refused = send(clerk, "issue", form)
    page = refused.content.decode()
    assert (refused.status_code, on_hand(item)) == (409, 3)
    assert 'value="WO-7"' in page
    assert 'value="5"' in page
    remedy = re.search(r'href="/counter/found/\?([^"]+)"', page)
    assert remedy
    asked = dict(part.split("=") for part in unescape(remedy[1]).split("&"))
    asked["then"] = "/identify/"
    send(clerk, "found", filled(clerk, "found", **asked) | {"counted": "6"})
    assert on_hand(item) == 1
    undo_last(clerk)
    assert on_hand(item) == 3
    # What was refused is answered for ever under its key: the form that came back has another.
    key = re.search(r'name="key" value="([^"]+)"', page)
    assert key
    assert key[1] != form["key"]


@pytest.mark.parametrize(
    ("name", "said", "left"),
    [
        ("return", {"quantity": "2", "reason_code": "not_needed"}, 5),
        ("return", {"quantity": "1", "reason_code": "did_not_fit"}, 4),
        ("return", {"quantity": "1", "reason_code": "worn"}, 3),
        ("count", {"counted": "7"}, 7),
        ("not-there", {}, 0),
        ("scrap", {"quantity": "1", "reason_code": "defective", "reason": "cracked hub"}, 2),
        ("receive", {"quantity": "4", "reason": "found behind the kiln"}, 7),
    ],
)
def test_every_act_on_a_shelf_is_undone(
    clerk: Client, item: Item, name: str, said: dict[str, str], left: int
) -> None:
    answer = send(clerk, name, filled(clerk, name, item="SPR-1") | said)
    assert (answer.status_code, on_hand(item)) == (302, left), answer.content.decode()
    undo_last(clerk)
    assert on_hand(item) == 3


def test_a_transfer_moves_to_the_other_storeroom_and_back(clerk: Client, item: Item) -> None:
    there = StoreroomFactory(code="OTHER")
    send(
        clerk,
        "transfer",
        filled(clerk, "transfer", item="SPR-1") | {"to_storeroom": "OTHER", "quantity": "2"},
    )
    assert StockLevel.objects.get(item=item, storeroom=there).on_hand == 2
    undo_last(clerk)
    assert StockLevel.objects.get(item=item, storeroom=there).on_hand == 0


def test_a_transfer_offers_the_storeroom_in_which_it_lies_last(clerk: Client, item: Item) -> None:
    for code in ("ANNEX", "ZINC"):
        StoreroomFactory(code=code)
    page = clerk.get("/counter/transfer/", {"item": "SPR-1"}).content.decode()
    assert re.findall(r'name="to_storeroom" value="(\w+)"', page) == ["ANNEX", "ZINC", "MAIN"]


def test_what_comes_back_says_the_bin_to_put_it_in(clerk: Client, item: Item) -> None:
    level = StockLevel.objects.get(item=item)
    level.bin = BinFactory(storeroom=level.storeroom, code="A-03-1")
    level.save()
    send(clerk, "return", filled(clerk, "return", item="SPR-1"))
    assert "1 × SPR-1 came back to MAIN, A-03-1." in report_of(clerk)


@pytest.mark.parametrize("typed", ["rüc", "rue", "Ruck"])
def test_an_act_is_opened_by_its_first_letters_on_any_keyboard(typed: str, clerk: Client, item: Item) -> None:
    clerk.cookies["language"] = "de"
    answer = clerk.get("/", {"q": typed, "item": "SPR-1"})
    assert answer["Location"].startswith("/counter/return/?item=SPR-1")


def test_a_reservation_and_a_request_are_taken_back_too(clerk: Client, item: Item) -> None:
    send(clerk, "reserve", filled(clerk, "reserve", item="SPR-1") | {"work_order": "WO-7"})
    assert Reservation.objects.get().state == "open"
    undo_last(clerk)
    assert Reservation.objects.get().state == "released"
    send(clerk, "ask", filled(clerk, "ask", item="SPR-1"))
    assert Request.objects.get().result == "not_filled"
    undo_last(clerk)
    assert Request.objects.get().retracted_at is not None


def test_the_job_in_hand_is_kept_until_another_one_begins(clerk: Client, item: Item, place: Position) -> None:
    WorkOrder.objects.create(
        source="works", external_id="WO-7", position=place, source_updated_at=timezone.now()
    )
    assert clerk.get("/", {"q": "wo-7"})["Location"] == f"/positions/{place.tag}/"
    page = clerk.get("/items/SPR-1/").content.decode()
    assert f"Issue for {place.tag}" in page
    assert 'value="WO-7"' in page
    other = PositionFactory(tag="STEEP-EL2-D1-DRV")
    clerk.get(f"/positions/{other.tag}/")
    page = clerk.get("/items/SPR-1/").content.decode()
    assert f"Issue for {other.tag}" in page
    assert "WO-7" not in page
    clerk.post("/counter/put-down/", {"then": "/identify/"})
    assert "Issue for" not in clerk.get("/items/SPR-1/").content.decode()


def test_whoever_only_reads_is_offered_no_act_and_may_send_none(item: Item, clerk: Client) -> None:
    reader, form = signed_in("viewer", "jonas"), filled(clerk, "issue", item="SPR-1")
    assert "/counter/" not in reader.get("/items/SPR-1/").content.decode()
    assert send(reader, "issue", form).status_code == 403
    assert reader.post("/counter/undo/", {"act": "movement-reverse:1", "key": "k"}).status_code == 403
    assert on_hand(item) == 3


def test_an_act_leads_to_no_page_of_others(clerk: Client, item: Item) -> None:
    form = filled(clerk, "issue", item="SPR-1", then="https://elsewhere.example/")
    for then in ("https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"):
        assert send(clerk, "issue", form | {"then": then, "quantity": "9"}).status_code == 409
        assert (
            "elsewhere" not in send(clerk, "issue", form | {"then": then, "quantity": "9"}).content.decode()
        )


def test_an_unknown_act_item_or_record_is_not_found(clerk: Client, item: Item) -> None:
    assert clerk.get("/counter/lend/").status_code == 404
    assert clerk.get("/counter/issue/", {"item": "NONE"}).status_code == 404
    assert clerk.get("/counter/issue/").status_code == 404
    for act in ("movement-reverse:999", "movement-list:1", "movement-reverse:x", ""):
        assert clerk.post("/counter/undo/", {"act": act, "key": "k"}).status_code == 404


def test_the_shift_shows_what_i_did_and_nothing_else(clerk: Client, item: Item) -> None:
    SupplyOrderFactory(item=item)
    other = signed_in("storeroom", "jonas")
    send(other, "count", filled(other, "count", item="SPR-1") | {"counted": "3"})
    send(clerk, "issue", filled(clerk, "issue", item="SPR-1") | {"work_order": "WO-7"})
    page = clerk.get("/counter/shift/").content.decode()
    assert page.count('class="done"') == 1
    assert "WO-7" in page
    for someone, count in ((other, "2"), (clerk, "1")):
        send(someone, "ask", filled(someone, "ask", item="SPR-1") | {"quantity": count})
    room = StockLevel.objects.get(item=item).storeroom
    task = CountTask.objects.create(item=item, storeroom=room, cause="value", due_on=timezone.localdate())
    assert clerk.post(f"/counts/{task.pk}/", {"counted": "5"}).status_code == 302
    page = " ".join(clerk.get("/counter/shift/").content.decode().split())
    assert "<strong>Asked for</strong> 1 ×" in page
    assert "<strong>Count</strong> +3 ×" in page
    for act in re.findall(r'<li class="done">.*?name="act" value="([^"]+)"', page):
        clerk.post("/counter/undo/", {"act": unescape(act), "key": act})
    assert on_hand(item) == 3
    assert Request.objects.filter(retracted_at__isnull=True).get().quantity == 2
    page = clerk.get("/counter/shift/").content.decode()
    assert page.count("undone</span>") == 3
    assert page.count('name="act"') == 0


def chain_in_stock(number: str, chain: str, strands: int = 1) -> Item:
    part = ChainFactory(chain_designation=chain, strands=strands)
    item: Item = ChainItemFactory(stock_number=number, specification=part)
    stock(item, StoreroomFactory(), 120, pieces=[120])
    return item


def test_the_chain_of_the_drive_is_issued_without_a_question(clerk: Client, place: Position) -> None:
    chain_in_stock("CHAIN-1", "08B")
    form = filled(clerk, "issue", item="CHAIN-1", position=place.tag)
    assert (form["quantity"], form.keys() & {"reason", "allowed_by"}) == (str(place.drive.links), set())
    send(clerk, "issue", form)
    assert StockEntry.objects.latest("pk").recorded_verdict.grade == "drop_in"


@pytest.mark.parametrize(
    ("chain", "strands", "said"),
    [
        ("10B", 1, "The drive runs on chain 08B; this is 10B."),
        ("08B", 2, "Strands of the chain on the drive: 1; of this one: 2."),
    ],
)
@pytest.mark.parametrize("act", ["issue", "found"])
def test_chain_for_a_drive_that_runs_on_another_one_asks_why_and_who_before_it_is_cut(
    chain: str, strands: int, said: str, act: str, clerk: Client, place: Position
) -> None:
    item = chain_in_stock("CHAIN-2", chain, strands)
    form = filled(clerk, act, item="CHAIN-2", position=place.tag) | {"quantity": "60"}
    assert form["reason"] == form["allowed_by"] == ""
    assert said in clerk.get(f"/counter/{act}/?item=CHAIN-2&position={place.tag}").content.decode()
    for missing in ("reason", "allowed_by"):
        given = form | {"reason": "breakdown", "allowed_by": "Ines Okafor", missing: ""}
        assert send(clerk, act, given).status_code == 400
    assert lengths(item) == [120]
    send(clerk, act, form | {"reason": "breakdown", "allowed_by": "Ines Okafor"})
    issue = StockEntry.objects.get(kind="issue")
    kept = issue.recorded_verdict
    assert (issue.change, kept.grade) == (-60, "unfit")
    assert issue.reason == kept.reason
    assert "breakdown" in issue.reason
    assert "Ines Okafor" in issue.reason


def test_a_position_typed_beside_the_chain_is_judged_before_it_is_cut(clerk: Client, place: Position) -> None:
    item = chain_in_stock("CHAIN-2", "10B")
    form = filled(clerk, "issue", item="CHAIN-2") | {"quantity": "60", "position": place.tag}
    refused = send(clerk, "issue", form)
    assert (refused.status_code, lengths(item)) == (400, [120])
    assert "The drive runs on chain 08B; this is 10B." in refused.content.decode()


def test_the_own_chain_of_a_lifting_drive_asks_why_and_who_too(clerk: Client, place: Position) -> None:
    place.drive.lifting = True
    place.drive.save()
    chain_in_stock("CHAIN-1", "08B")
    form = filled(clerk, "issue", item="CHAIN-1", position=place.tag)
    assert form["reason"] == form["allowed_by"] == ""
    assert form["quantity"] == str(place.drive.links)
    chain_in_stock("CHAIN-2", "10B")
    page = clerk.get(f"/counter/issue/?item=CHAIN-2&position={place.tag}").content.decode()
    assert "The drive runs on chain 08B; this is 10B." in page
    assert "This drive lifts or carries people" in page


def lengths(item: Item) -> list[int]:
    return sorted(StockPiece.objects.filter(level__item=item, links__gt=0).values_list("links", flat=True))


def test_the_piece_of_chain_that_was_chosen_is_cut_and_lengths_come_back_and_in(clerk: Client) -> None:
    chain = ChainItemFactory(stock_number="CHAIN-1")
    room = StoreroomFactory()
    stock(chain, room, 317, pieces=[120, 120, 77])
    short = StockPiece.objects.get(level__item=chain, links=77)
    form = filled(clerk, "issue", item="CHAIN-1")
    assert f"{room.code}/new/{short.pk}" in clerk.get("/counter/issue/?item=CHAIN-1").content.decode()
    send(clerk, "issue", form | {"shelf": f"{room.code}/new/{short.pk}", "quantity": "60"})
    assert lengths(chain) == [17, 120, 120]
    send(
        clerk,
        "return",
        filled(clerk, "return", item="CHAIN-1") | {"quantity": "40", "reason_code": "not_needed"},
    )
    assert lengths(chain) == [17, 40, 120, 120]
    receipt = filled(clerk, "receive", item="CHAIN-1") | {
        "quantity": "230",
        "reason": "found behind the kiln",
    }
    send(clerk, "receive", receipt | {"piece_links": "120; 110"})
    assert lengths(chain) == [17, 40, 110, 120, 120, 120]
    undo_last(clerk)
    assert lengths(chain) == [17, 40, 120, 120]


@pytest.mark.parametrize(("pieces", "said"), [("120, 100", "230"), ("long", "whole numbers")])
def test_lengths_that_do_not_make_the_links_received_are_refused(
    clerk: Client, pieces: str, said: str
) -> None:
    chain = ChainItemFactory(stock_number="CHAIN-1")
    stock(chain, StoreroomFactory(), 120, pieces=[120])
    receipt = filled(clerk, "receive", item="CHAIN-1") | {
        "quantity": "230",
        "reason": "found behind the kiln",
    }
    refused = send(clerk, "receive", receipt | {"piece_links": pieces})
    assert (refused.status_code, lengths(chain)) == (400, [120])
    assert said in refused.content.decode()

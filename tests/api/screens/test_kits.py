"""A kit on pages: made up for a job, staged, issued line by line, taken apart."""

import re
from datetime import date
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.test import Client

from api.edge.scope import limit_to
from api.resources import kits
from api.screens.kits import make_up
from drives.models import Position, WorkOrder
from inventory.models import Kit, Reservation, StockEntry, StockLevel, Storeroom
from inventory.stores.ledger.verify import verify
from tests.factories import (
    MORNING,
    ItemFactory,
    PlantFactory,
    PositionFactory,
    SprocketFactory,
    StoreroomFactory,
    UserFactory,
    stock,
)
from tests.pages import signed_in

pytestmark = pytest.mark.django_db
NEW = "/kits/new/"


@pytest.fixture
def client() -> Client:
    return signed_in("storeroom", "the storeroom")


@pytest.fixture
def main() -> Storeroom:
    """Two parts with three pieces each."""
    room: Storeroom = StoreroomFactory()
    for number in ("SPR-1", "SPR-2"):
        stock(ItemFactory(stock_number=number, description=f"{number} wheel"), room, 3)
    return room


def text_of(answer: Any) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def sent(*parts: tuple[str, str], **more: str) -> dict[str, Any]:
    numbers, quantities = [part for part, _ in parts], [pieces for _, pieces in parts]
    return {
        "work_order": "WO-1",
        "storeroom": "MAIN",
        "needed_by": "",
        "place": "",
        "key": "key-1",
        "item": numbers,
        "quantity": quantities,
        **more,
    }


def made(client: Client, *parts: tuple[str, str], **more: str) -> Kit:
    answer = client.post(NEW, sent(*(parts or (("SPR-1", "2"), ("SPR-2", "1"))), **more))
    assert answer.status_code == 302, text_of(answer)
    return Kit.objects.get()


def act(client: Client, kit: Kit, name: str, **more: str) -> str:
    address = f"/kits/{kit.pk}/"
    assert client.post(address, {"act": name, "key": "act-1", **more})["Location"] == address
    kit.refresh_from_db()
    return text_of(client.get(address))


def reserved() -> list[int]:
    return list(StockLevel.objects.order_by("item__stock_number").values_list("reserved", flat=True))


def test_a_kit_is_made_up_of_what_its_job_needs(client: Client, main: Storeroom) -> None:
    place = PositionFactory()
    job = WorkOrder.objects.create(
        source="plan",
        external_id="WO-7",
        source_updated_at=MORNING,
        title="Kiln chain",
        position=place,
        needed_by=date(2030, 1, 31),
        parts_needed=[{"item": "SPR-1", "quantity": 2}, {"item": "SPR-2", "quantity": 1}],
    )
    page = client.get(f"{NEW}?job={job.pk}")
    html = page.content.decode()
    assert re.findall(r'name="item"[^>]*value="([^"]*)"', html) == ["SPR-1", "SPR-2", "", "", ""]
    assert re.findall(r'name="quantity"[^>]*value="([^"]*)"', html) == ["2", "1", "", "", ""]
    assert 'name="needed_by" type="date" value="2030-01-31"' in html
    assert "SPR-1 wheel 3 available there" in text_of(page)
    kit = made(client, ("SPR-1", "2"), ("SPR-2", "1"), work_order="WO-7", needed_by="2030-01-31")
    shown = text_of(client.get(f"/kits/{kit.pk}/"))
    assert f"Kiln chain {place.tag}" in shown
    assert "SPR-1 SPR-1 wheel 2 pieces 2 MAIN new Issue SPR-1" in shown
    assert (reserved(), kit.needed_by) == ([2, 1], date(2030, 1, 31))
    listed = client.get("/lists/kits/").content.decode()
    assert f'href="/kits/{kit.pk}/">WO-7' in listed
    assert '<a class="button" href="/kits/new/">' in listed


def test_what_is_wrong_stands_at_its_line_and_nothing_is_held_back(client: Client, main: Storeroom) -> None:
    answer = client.post(NEW, sent(("SPR-1", "2"), ("SPR-2", "4"), ("", "")))
    assert answer.status_code == 409
    assert re.search(r'<a href="#quantity-1">[^<]*3[^<]*</a>', answer.content.decode())
    bad = client.post(NEW, sent(("SPR-1", "x"), ("SPR-9", "1"), storeroom="", key="key-2"))
    html = bad.content.decode()
    assert bad.status_code == 400
    for field in ("quantity-0", "item-1", "storeroom"):
        assert f'<a href="#{field}">' in html
        assert f'id="{field}"' in html
    assert "No item has this number." in text_of(bad)
    assert 'value="SPR-9"' in html
    assert (Kit.objects.count(), Reservation.objects.count(), reserved()) == (0, 0, [0, 0])


def test_more_rows_are_added_and_nothing_is_lost(client: Client, main: Storeroom) -> None:
    answer = client.post(NEW, sent(("SPR-1", "1"), ("SPR-2", "1"), ("SPR-2", "1"), more="1"))
    assert answer.status_code == 200
    assert len(re.findall(r'name="item"', answer.content.decode())) == 6
    assert not Kit.objects.exists()


def test_the_form_takes_as_many_lines_as_the_api() -> None:
    assert make_up.MOST_LINES == kits.MOST_LINES


def test_a_job_that_has_a_kit_leads_to_it(client: Client, main: Storeroom) -> None:
    kit = made(client)
    again = client.post(NEW, sent(("SPR-1", "1"), key="key-2"))
    assert again.status_code == 409
    assert f'href="/kits/{kit.pk}/"' in again.content.decode()


def test_it_stands_together_and_all_of_it_is_issued_once(client: Client, main: Storeroom) -> None:
    kit = made(client)
    assert "The parts are staged at cage 4." in act(client, kit, "stage", place="cage 4")
    assert (kit.state, kit.place) == ("staged", "cage 4")
    for _press in range(2):
        text = act(client, kit, "issue")
    assert kit.state == "used"
    issues = StockEntry.objects.filter(kind="issue").order_by("pk")
    assert list(issues.values_list("item__stock_number", "change", "work_order")) == [
        ("SPR-1", -2, "WO-1"),
        ("SPR-2", -1, "WO-1"),
    ]
    assert "Issue all" not in text
    assert (reserved(), verify()) == ([0, 0], ())


def test_all_that_was_issued_can_be_undone(client: Client, main: Storeroom) -> None:
    kit = made(client)
    client.post(f"/kits/{kit.pk}/", {"act": "issue", "key": "act-1"})
    page = client.get(f"/kits/{kit.pk}/").content.decode()
    issues = ",".join(
        str(pk) for pk in StockEntry.objects.filter(kind="issue").order_by("pk").values_list("pk", flat=True)
    )
    assert "Issued 2 lines to work order WO-1." in page
    assert f'name="act" value="movement-reverse:{issues}"' in page
    client.post("/counter/undo/", {"act": f"movement-reverse:{issues}", "key": "undo-1"})
    kit.refresh_from_db()
    assert (kit.state, reserved(), verify()) == ("open", [2, 1], ())
    assert "Issue all" in text_of(client.get(f"/kits/{kit.pk}/"))


def test_a_line_that_is_refused_stays_held_and_leads_to_the_counter(client: Client, main: Storeroom) -> None:
    """A sprocket that does not fit the position of the job is not issued by one press."""
    place: Position = PositionFactory()
    unfit = ItemFactory(stock_number="SPR-3", specification=SprocketFactory(chain_designation="16B"))
    stock(unfit, main, 1)
    WorkOrder.objects.create(source="plan", external_id="WO-1", source_updated_at=MORNING, position=place)
    kit = made(client, ("SPR-3", "1"))
    text = act(client, kit, "issue")
    assert "SPR-3 was not issued:" in text
    assert (kit.state, StockEntry.objects.filter(kind="issue").count()) == ("open", 0)
    address = re.search(r'href="(/counter/issue/[^"]*)"', client.get(f"/kits/{kit.pk}/").content.decode())
    assert address
    form = client.get(address[1].replace("&amp;", "&")).content.decode()
    assert 'value="WO-1"' in form
    assert f'value="{place.tag}"' in form
    assert "Why it is taken all the same" in form


def test_taken_apart_it_is_free_again(client: Client, main: Storeroom) -> None:
    kit = made(client)
    text = act(client, kit, "take-apart")
    assert "Taken apart: what was not used is available again." in text
    assert (kit.state, reserved()) == ("released", [0, 0])
    assert "Take apart</button>" not in client.get(f"/kits/{kit.pk}/").content.decode()
    assert "Not taken apart:" in text_of(
        client.post(f"/kits/{kit.pk}/", {"act": "take-apart", "key": "act-2"}, follow=True)
    )


def test_what_is_sent_again_is_reported_once(client: Client, main: Storeroom) -> None:
    body = {**sent(("SPR-1", "1")), "key": "made"}
    page = client.post(NEW, body)["Location"]
    client.post(NEW, body)
    for words in (
        {"act": "stage", "place": "Bench 3", "key": "staged"},
        {"act": "take-apart", "key": "gone"},
    ):
        client.post(page, words)
        client.post(page, words)
    text = text_of(client.get(page))
    assert [text.count(said) for said in ("is made up", "staged at Bench 3.", "Taken apart:")] == [1, 1, 1]


def test_who_may_not_book_reads_and_changes_nothing(client: Client, main: Storeroom) -> None:
    kit = made(client)
    viewer = signed_in("viewer", "the viewer")
    page = viewer.get(f"/kits/{kit.pk}/")
    assert (page.status_code, "<form method=" in page.content.decode()) == (200, False)
    assert "/kits/new/" not in viewer.get("/lists/kits/").content.decode()
    assert viewer.get(NEW).status_code == 403
    assert viewer.post(f"/kits/{kit.pk}/", {"act": "issue", "key": "v"}).status_code == 403
    assert reserved() == [2, 1]


def test_a_kit_of_another_storeroom_is_not_found(client: Client, main: Storeroom) -> None:
    kit = made(client)
    other = UserFactory(username="jonas")
    other.groups.add(Group.objects.get(name="storeroom"))
    limit_to({"user": other}, [PlantFactory(code="MILL")], [StoreroomFactory(code="NORTH")])
    stranger = Client()
    stranger.force_login(other)
    assert stranger.get(f"/kits/{kit.pk}/").status_code == 404
    assert stranger.post(f"/kits/{kit.pk}/", {"act": "issue", "key": "s"}).status_code == 404
    assert client.post(f"/kits/{kit.pk}/", {"act": "burn", "key": "s"}).status_code == 404

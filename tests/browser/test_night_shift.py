"""A shift of twenty acts by scanner and keyboard alone; how many keystrokes each may take is its test."""

import pytest
from playwright.sync_api import expect

from inventory.models import StockEntry
from tests.browser.clerk import HAND_MS, Clerk
from tests.browser.plant import small_plant
from tests.factories import (
    ChainFactory,
    ChainItemFactory,
    ItemFactory,
    SprocketFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    stock,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST_KEYSTROKES = {
    "issue": 3,
    "undo": 2,
    "issue of two": 3,
    "return": 6,
    "return, did not fit": 6,
    "return, worn": 6,
    "count": 7,
    "reserve": 6,
    "release": 2,
    "transfer": 7,
    "not there": 6,
    "found": 6,
    "ask": 6,
    "issue of chain": 4,
    "receive against an order": 4,
    "issue with a reason and a name": 9,
    "issue of another chain than the drive runs on": 12,
    "scrap": 10,
    "put on hold": 11,
    "identify and issue": 13,
}
"""A scan counts as one; a form is opened by three letters and Enter."""


def test_no_act_of_a_night_shift_takes_more_keystrokes_than_it_needs(open_page):
    plant = small_plant()
    place, part, wrong = plant.driver.tag, plant.drop_in.stock_number, plant.trap.stock_number
    StoreroomFactory(code="ANNEX", name="Annex")
    chain = ChainItemFactory(stock_number="61-0105")
    stock(chain, StoreroomFactory(), 240, pieces=[120, 120])
    seal = ItemFactory(stock_number="81-0105", description="OIL SEAL", specification=None)
    SupplyOrderFactory(external_id="PO-0105", item=seal, quantity=2)
    dented = ItemFactory(stock_number="81-0110", description="OIL SEAL 2", specification=None)
    SupplyOrderFactory(external_id="PO-0110", item=dented, quantity=2)
    other = ChainItemFactory(
        stock_number="61-0110", specification=ChainFactory(chain_designation="10B", strands=1)
    )
    stock(other, StoreroomFactory(), 120, pieces=[120])
    ItemFactory(stock_number="41-0125", specification=SprocketFactory(teeth=19))
    clerk = Clerk(open_page("/", session=plant.session))

    clerk.scan(place, place)
    clerk.scan(part, part)
    clerk.press("Enter")
    clerk.done("issue", f"Issued 1 × {part}")
    clerk.press("Tab", "Enter")
    clerk.done("undo", "Undone")
    clerk.scan(part, part)
    clerk.type("2")
    clerk.press("Enter")
    clerk.done("issue of two", f"Issued 2 × {part}")
    for act, letters, said in (
        ("return", "ret", "came back to"),
        ("return, did not fit", "did", "on hold"),
        ("return, worn", "wor", "left the books"),
    ):
        clerk.scan(part, part)
        clerk.act("Return", letters)
        clerk.press("Enter")
        clerk.done(act, said)
    clerk.scan(part, part)
    clerk.act("Count", "cou")
    clerk.type("2")
    clerk.press("Enter")
    clerk.done("count", "Counted 2")
    clerk.scan(part, part)
    clerk.act("Reserve", "res")
    clerk.scan("WO-7", part)
    clerk.done("reserve", "Reserved 1")
    clerk.press("Tab", "Enter")
    clerk.done("release", "Undone")
    clerk.scan(part, part)
    clerk.act("Transfer", "tra")
    clerk.press("Space", "Enter")
    clerk.done("transfer", "to ANNEX")
    clerk.scan(part, part)
    clerk.act("Not there", "not")
    clerk.press("Enter")
    clerk.done("not there", "is not in")
    clerk.scan(part, part)
    clerk.act("Found", "fou")
    clerk.press("Enter")
    clerk.done("found", "Counted and issued 1")
    clerk.scan("41-0125", "41-0125")
    clerk.act("Record as asked for", "ask")
    clerk.press("Enter")
    clerk.done("ask", "asked for and not filled")
    clerk.scan("61-0105", "61-0105")
    clerk.type("60")
    clerk.press("Enter")
    clerk.done("issue of chain", "Issued 60 × 61-0105")
    clerk.scan("PO-0105", "PO-0105")
    clerk.type("2")
    clerk.press("Enter")
    expect(clerk.page.get_by_role("button", name="Receive 2 pieces")).to_be_focused()
    clerk.press("Enter")
    clerk.done("receive against an order", "Received 2 × 81-0105 for PO-0105")
    clerk.scan(wrong, wrong)
    clerk.press("Tab")
    clerk.type("try")
    clerk.press("Tab")
    clerk.type("IB")
    clerk.press("Enter")
    clerk.done("issue with a reason and a name", f"Issued 1 × {wrong}")
    assert StockEntry.objects.latest("pk").reason == "try (allowed by IB)"
    clerk.scan("61-0110", "61-0110")
    clerk.press("Tab")
    clerk.type("try")
    clerk.press("Tab")
    clerk.type("IB")
    clerk.press("Tab")
    clerk.type("60")
    clerk.press("Enter")
    clerk.done("issue of another chain than the drive runs on", "Issued 60 × 61-0110")
    assert StockEntry.objects.latest("pk").recorded_verdict.reason == "try (allowed by IB)"
    clerk.scan("61-0105", "61-0105")
    clerk.act("Scrap", "scr")
    clerk.type("rust")
    clerk.press("Enter")
    clerk.done("scrap", "Scrapped 1 × 61-0105")
    clerk.scan("PO-0110", "PO-0110")
    clerk.type("2")
    clerk.press("Tab")
    clerk.type("dented")
    clerk.press("Enter")
    expect(clerk.page.get_by_role("button", name="Put 2 pieces on hold")).to_be_focused()
    clerk.press("Enter")
    clerk.done("put on hold", "2 × 81-0110 for PO-0110 are on hold")
    clerk.page.goto("/identify/")
    clerk.type("17")
    clerk.press("Enter")
    clerk.expect_answer("17")
    clerk.type("1")
    clerk.press("Enter")
    clerk.expect_answer("1")
    clerk.press("Enter")
    clerk.expect_answer("Yes")
    clerk.type("75.4")
    clerk.press("Enter")
    clerk.expect_answer("75.4 mm")
    found = plant.pilot.stock_number
    expect(clerk.page.locator("main")).to_contain_text(found)
    clerk.scan(found, found)
    clerk.press("Enter")
    clerk.done("identify and issue", f"Issued 1 × {found}")

    assert clerk.by_act == MOST_KEYSTROKES


SCAN = """text => { for (const key of text) {
  const field = document.activeElement;
  const event = new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true });
  if (field.dispatchEvent(event) && field.tagName === "INPUT") document.execCommand("insertText", false, key);
} }"""
"""All keys of a code in one moment, however busy the machine is."""


def test_what_a_scanner_types_is_no_number_and_no_choice(open_page):
    """Wherever the cursor is left, the next scan is looked up; a hand may still type a number."""
    plant = small_plant()
    page = open_page(f"/counter/count/?item={plant.drop_in.stock_number}", session=plant.session)
    counted, box = page.get_by_label("Pieces that lie there"), page.locator("#search")
    expect(counted).to_be_focused()
    page.keyboard.type("12", delay=HAND_MS)
    page.evaluate(SCAN, "471100")
    expect(box).to_have_value("471100")
    expect(counted).to_have_value("12")
    page.wait_for_timeout(700)
    page.get_by_label("Shelf").focus()
    page.evaluate(SCAN, "PO-0105")
    expect(box).to_have_value("PO-0105")
    page.wait_for_timeout(700)
    page.evaluate(SCAN, "41-0115")
    expect(box).to_have_value("41-0115")  # In the place of what stood there.
    counted.fill("")
    page.wait_for_timeout(700)
    page.keyboard.type("41-01", delay=HAND_MS)
    expect(box).to_have_value("41-01")
    expect(counted).to_have_value("")
    page.goto("/identify/?teeth=17&strands=1&worn=false")
    size = page.locator("main form.panel input[inputmode=decimal]")
    page.keyboard.type("12,7", delay=HAND_MS)  # A size has other characters than digits.
    expect(size).to_have_value("12,7")
    page.wait_for_timeout(700)
    page.evaluate(SCAN, "STEEP-EL1-D1-DRV")
    expect(box).to_have_value("STEEP-EL1-D1-DRV")
    expect(size).to_have_value("12,7")
    page.goto("/deliveries/?q=")
    page.keyboard.type("41-0", delay=HAND_MS)
    page.wait_for_timeout(700)
    page.evaluate(SCAN, plant.driver.tag)
    expect(page.locator("#q")).to_have_value(plant.driver.tag)
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text(plant.driver.tag)

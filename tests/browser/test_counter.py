"""From a scanned tag to the part and its sheet, as a clerk and a fitter go."""

import pytest
from playwright.sync_api import expect

from inventory.models import StockEntry, StockLevel
from tests.browser.conftest import PHONE
from tests.browser.plant import session_of, small_plant
from tests.examples import IS_LONG
from tests.factories import SupplyOrderFactory, UserFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_scanned_tag_leads_to_what_fits(open_page):
    plant = small_plant()
    page = open_page("/", session=plant.session, size=PHONE)
    assert page.evaluate("document.activeElement.name") == "q"
    page.keyboard.type("steep el1 d1 drv")
    page.keyboard.press("Enter")
    page.wait_for_url("**/positions/STEEP-EL1-D1-DRV/")
    expect(page.locator(".card-drop_in h3").first).to_have_text(plant.drop_in.stock_number)
    assert "Runs in about" in page.locator(".card-drop_in").first.inner_text()
    assert plant.trap.stock_number in page.locator(".lookalike").inner_text()
    assert plant.trap.stock_number in page.locator(".unfit").inner_text()


def test_the_order_turns_and_a_part_opens_as_a_sheet(open_page):
    plant = small_plant()
    page = open_page("/positions/STEEP-EL1-D1-DRV/", session=plant.session)
    page.get_by_role("link", name="Soonest running first").click()
    expect(page.get_by_role("link", name="Soonest running first")).to_have_attribute("aria-current", "true")
    page.locator(".card-with_work").first.get_by_role("link", name="Fitting sheet").click()
    page.wait_for_url("**part=41-01**")
    expect(page.locator("article.card")).to_have_count(1)
    page.get_by_text("Stock, reasons and checks").click()
    assert page.locator("article details[open] table").is_visible()
    page.emulate_media(media="print")
    assert not page.locator(".bar").is_visible()
    assert not page.locator("article.card").is_visible()
    assert page.locator(".fitter-code").is_visible()


def test_everything_is_found_without_script(open_page):
    plant = small_plant()
    page = open_page("/", session=plant.session, script=False)
    page.fill("#search", "41-0l10")
    page.click("main button")
    expect(page.locator("#hits")).to_contain_text("Nothing is called")
    page.get_by_role("link", name="41-0110").click()
    expect(page.locator("h1")).to_have_text(plant.pilot.stock_number)


def test_the_box_answers_while_typing(open_page):
    plant = small_plant()
    page = open_page("/", session=plant.session)
    page.keyboard.type("pilot")
    page.locator("#answers a").first.wait_for()
    expect(page.locator("#answers .ref")).to_have_text([plant.pilot.stock_number])


def test_a_slash_puts_the_cursor_into_the_box(open_page):
    plant = small_plant()
    page = open_page("/drives/STEEP-EL1-D1/", session=plant.session)
    page.keyboard.press("/")
    assert page.evaluate("document.activeElement.id") == "search"


KEY_AT_ONCE = """document.addEventListener("DOMContentLoaded", function () {
  document.activeElement.dispatchEvent(new KeyboardEvent("keydown", { key: "1", bubbles: true, cancelable: true }));
  window.focusedByKey = document.activeElement.id;
});"""


def test_a_key_that_comes_before_the_first_picture_goes_to_the_field_of_the_page(open_page):
    page = open_page("/", session=small_plant().session)
    page.add_init_script(KEY_AT_ONCE)
    page.goto("/identify/")
    named = page.locator("main input[autofocus]").get_attribute("id")
    assert page.evaluate("window.focusedByKey") == named


def test_somebody_logs_in_and_out(open_page):
    user = UserFactory()
    user.set_password("the kiln is warm")
    user.save()
    page = open_page("/")
    page.fill("#id_username", user.username)
    page.fill("#id_password", "the kiln is cold")
    page.click("main button")
    page.get_by_role("link", name="User name and password do not match").click()
    expect(page.locator("#id_username")).to_be_focused()
    page.fill("#id_password", "the kiln is warm")
    page.click("main button")
    page.get_by_role("heading", name="Find a position, drive or item").wait_for()
    page.get_by_role("button", name="Log out").click()
    page.wait_for_url("**/login/")


def test_an_issue_is_one_scan_another_scan_and_enter(open_page):
    """And the line that reports it undoes it: the part lies on its shelf again."""
    plant = small_plant()
    page = open_page("/", session=plant.session)
    for scanned in (plant.driver.tag, plant.drop_in.stock_number):
        page.keyboard.type(scanned)
        page.keyboard.press("Enter")
        expect(page.locator("h1")).to_have_text(scanned)
        page.wait_for_load_state()
    expect(page.get_by_role("button", name="Issue", exact=True)).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator(".report")).to_contain_text(f"Issued 1 × {plant.drop_in.stock_number}")
    page.wait_for_load_state()
    # The next scan is not for the button: it goes into the box, whatever has the focus.
    page.keyboard.type(plant.trap.stock_number)
    expect(page.locator("#search")).to_have_value(plant.trap.stock_number)
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text(plant.trap.stock_number)
    page.get_by_role("link", name="My shift").click()
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".report")).to_contain_text("Undone")
    assert sum(StockLevel.objects.filter(item=plant.drop_in).values_list("on_hand", flat=True)) == 2


def test_what_was_entered_stays_when_the_connection_is_lost_and_is_booked_once(open_page):
    plant = small_plant()
    page = open_page(f"/positions/{plant.driver.tag}/", session=plant.session, size=PHONE)
    form = page.locator("form.take").first
    form.get_by_label("Work order").fill("WO-7")
    sent = []

    def lose_the_answer(route):
        sent.append(route.request.post_data)
        if len(sent) == 1:
            route.fetch()  # It was booked, and nobody heard of it.
            route.abort("aborted")
        else:
            route.continue_()

    page.route("**/counter/issue/", lose_the_answer)
    form.get_by_role("button", name="Issue").click()
    expect(form.locator("[data-lost]")).to_be_visible()
    expect(form.get_by_label("Work order")).to_have_value("WO-7")
    form.get_by_role("button", name="Issue").click()
    expect(page.locator(".report")).to_contain_text(["Issued 1"])  # One line, although it was sent twice.
    assert StockEntry.objects.filter(work_order="WO-7").count() == 1


@pytest.mark.skipif(
    not IS_LONG, reason="PROOF=long sends a delivery whose answer is lost, and undoes what has an undo"
)
def test_a_delivery_whose_answer_is_lost_is_booked_once_and_its_release_is_undone(open_page):
    plant = small_plant()
    order = SupplyOrderFactory(item=plant.drop_in, quantity=4, received_quantity=0, received_at=None)
    page = open_page(f"/deliveries/orders/{order.pk}/", session=session_of("storeroom"), size=PHONE)
    page.fill("#quantity", "2")
    page.fill("#wrong", "box is wet")
    page.get_by_role("button", name="Check", exact=True).click()

    def lose_the_answer(route):
        route.fetch()
        route.abort("aborted")
        page.unroute("**/deliveries/orders/**")

    page.route("**/deliveries/orders/**", lose_the_answer)
    page.get_by_role("button", name="Put 2 pieces on hold").click()
    expect(page.locator("[data-lost]")).to_be_visible()
    page.get_by_role("button", name="Put 2 pieces on hold").click()
    expect(page.locator(".report")).to_contain_text(["are on hold"])
    page.get_by_label("Reason").fill("dry again")
    page.get_by_role("button", name="Release").click()
    report = page.locator(".report", has_text="Released 2")
    expect(report).to_be_visible()
    report.get_by_role("button", name="Undo").click()
    expect(page.locator(".report")).to_contain_text("Undone.")
    assert StockLevel.objects.get(item=plant.drop_in, condition="on_hold").on_hand == 2

"""Stock planning as a manager uses it: with and without script, on a phone and on paper."""

import pytest
from django.contrib.auth import get_user_model
from playwright.sync_api import expect

from inventory.models import Item, StockPolicy
from tests.browser.conftest import PHONE
from tests.browser.planning_plant import planning_plant
from tests.browser.test_pages import HEAVIEST_PAGE_BYTES

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_pages_with_all_that_they_load_stay_light(open_page):
    plant = planning_plant()
    for path in ("/planning/", f"/planning/{plant.to_decide.pk}/"):
        page = open_page("/login/", session=plant.session)
        loaded = []
        page.on("response", lambda response, loaded=loaded: loaded.append(len(response.body())))
        page.goto(path)
        page.wait_for_load_state("networkidle")
        assert 5_000 < sum(loaded) < HEAVIEST_PAGE_BYTES


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_a_manager_goes_from_the_list_to_a_decision(open_page, script):
    plant = planning_plant()
    page = open_page("/", session=plant.session, script=script)
    page.get_by_role("link", name="Stock planning").click()
    page.get_by_text("Filter", exact=True).first.click()
    page.select_option("#importance", "vital")
    page.get_by_role("button", name="Filter").click()
    expect(page.locator(".decisions tbody tr")).to_have_count(1)
    page.get_by_role("link", name=plant.to_decide.item.stock_number).click()
    page.get_by_role("button", name="Set reorder point 1, order up to 2").click()
    expect(page.locator("#decide-panel")).to_contain_text("Accepted by ines")
    assert StockPolicy.objects.get(item=plant.to_decide.item).order_up_to == 2


def test_a_fault_links_to_its_field_which_is_open(open_page):
    plant = planning_plant()
    page = open_page(f"/planning/{plant.to_decide.pk}/", session=plant.session, size=PHONE)
    page.get_by_text("Set other levels").click()
    page.fill("#amend-reorder-point", "4")
    page.fill("#amend-order-up-to", "3")
    page.fill("#amend-reason", "The kiln is rebuilt")
    page.get_by_role("button", name="Set these levels").click()
    page.get_by_role("link", name="It must be above reorder_point").click()
    expect(page.locator("#amend-order-up-to")).to_be_focused()
    assert page.input_value("#amend-reason") == "The kiln is rebuilt"


def test_a_reorder_list_prints_without_its_buttons(open_page):
    plant = planning_plant()
    page = open_page("/planning/reorder/", session=plant.session)
    page.emulate_media(media="print")
    assert page.locator("table.list-table").first.is_visible()
    assert not page.locator(".tabs").first.is_visible()
    assert page.locator("p.only-print").is_visible()


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_pages_stand_in_two_rows_on_a_desk_and_in_one_line_on_a_phone(open_page, language):
    session, address = planning_plant().session, "/planning/orphans/"
    nav = open_page(address, session=session, language=language).locator(".planning-pages")
    row = nav.locator(".page-groups").bounding_box()["height"]
    assert nav.bounding_box()["height"] <= 2 * row + 10
    page = open_page(address, session=session, language=language, size=PHONE)
    nav = page.locator(".planning-pages")
    assert nav.bounding_box()["height"] <= row
    assert nav.get_by_role("link").count() == 0
    nav.locator("summary").press("Enter")
    nav.locator('a[href="/planning/buy/"]').last.press("Enter")
    page.wait_for_url("**/planning/buy/")


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_bar_of_a_manager_is_one_row_on_a_desk(open_page, language):
    plant = planning_plant()
    get_user_model().objects.update(username="demo-manager")
    page = open_page("/planning/", session=plant.session, language=language)
    bar = page.locator(".bar")
    assert bar.locator("nav").first.get_by_role("link").count() == 4
    assert bar.bounding_box()["height"] < 2 * 44
    for one in (bar.get_by_role("searchbox"), *bar.get_by_role("button").all()):
        assert one.bounding_box()["height"] >= 44


LINES = """th => {
  const range = document.createRange();
  range.selectNodeContents(th.querySelector(".link").nextSibling);
  return [...new Set([...range.getClientRects()].filter(r => r.width > 1).map(r => r.top))];
}"""


def test_the_lines_of_an_item_in_the_list_are_as_far_apart_as_each_other(open_page):
    plant = planning_plant()
    Item.objects.update(
        description="Sprocket for the discharge conveyor of the second malting floor, hardened"
    )
    page = open_page("/planning/", session=plant.session)
    row = page.locator(".decisions tbody th").first
    first, second, third, *_more = row.evaluate(LINES)
    assert second - first == pytest.approx(third - second, abs=1)
    assert row.get_by_role("link").bounding_box()["height"] >= 44

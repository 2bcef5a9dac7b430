"""The way of each role through its work, at a desk; on a phone with PROOF=long."""

import pytest
from playwright.sync_api import expect

from inventory.models import StockLevel, StockPolicy
from tests.browser.conftest import DESK, PHONE
from tests.browser.plant import session_of, small_plant
from tests.examples import IS_LONG
from tests.factories import RecommendationFactory

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.parametrize("size", [DESK, PHONE] if IS_LONG else [DESK]),
]


def test_the_storeroom_scans_issues_and_undoes(open_page, size):
    plant = small_plant()
    page = open_page("/", session=session_of("storeroom"), size=size)
    page.keyboard.type(plant.driver.tag)
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text(plant.driver.tag)
    page.get_by_text("Other acts").first.click()
    expect(page.get_by_role("link", name="Found more").first).to_be_visible()
    page.locator("form.take button").first.click()
    expect(page.locator(".report")).to_contain_text("Issued 1 × 41-0105")
    page.locator(".report").get_by_role("button", name="Undo").click()
    expect(page.locator(".report")).to_contain_text("Undone.")
    assert StockLevel.objects.get(item=plant.drop_in).on_hand == 2
    assert page.get_by_role("link", name="Imports").count() == 0


def test_a_manager_goes_from_today_to_a_decision(open_page, size):
    record = RecommendationFactory(item=small_plant().drop_in)
    page = open_page("/", session=session_of("manager"), size=size)
    today = page.locator(".today section", has_text="To decide")
    today.get_by_role("link", name="Decide 41-0105").click()
    page.locator("#decide-panel button").first.click()
    expect(page.locator(".report")).to_contain_text("Decided.")
    assert StockPolicy.objects.get(item=record.item).order_up_to == record.order_up_to
    page.goto("/")
    expect(page.get_by_role("heading", name="To decide")).to_have_count(0)


def test_a_viewer_searches_and_lists_and_is_offered_no_act(open_page, size):
    plant = small_plant()
    record = RecommendationFactory(item=plant.drop_in)
    page = open_page("/", session=session_of("viewer"), size=size)
    expect(page.locator(".today")).to_have_count(0)
    page.locator("#search").fill("41-0105")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("41-0105")
    places = (f"/positions/{plant.driver.tag}/", "/lists/stock/", f"/planning/{record.pk}/", "/deliveries/")
    for address in ("/items/41-0105/", *places):
        assert page.goto(address).ok
        assert page.locator("main form[method=post], main a[href*='/counter/']").count() == 0, address

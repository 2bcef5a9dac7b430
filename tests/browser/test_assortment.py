"""Numbers merged and items run down from their pages, and both taken back."""

import pytest
from playwright.sync_api import Page, expect

from inventory.models import FitQuestion, Item, Merge, RunDown
from tests.browser.conftest import PHONE
from tests.browser.planning_plant import calculate, calculated_plant
from tests.browser.plant import small_plant
from tests.browser.test_pages import serious, sideways, small_targets
from tests.drives.assortment.test_variety import three_bores_and_one_bushed

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def is_sound(page: Page) -> bool:
    page.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true; })")
    return (serious(page), sideways(page), small_targets(page)) == ([], False, [])


def test_a_manager_merges_two_numbers_and_undoes_it(open_page):
    plant = calculated_plant()
    FitQuestion.objects.all().delete()  # A part whose fit is asked about is not merged.
    stays = plant.plant.drop_in.stock_number
    page = open_page("/planning/duplicates/", session=plant.session, size=PHONE)
    page.get_by_text("Merge into one number").click()
    page.get_by_role("radio", name=stays).check()
    page.get_by_label("Reason").first.fill("one sprocket")
    page.get_by_role("button", name="Merge").click()
    expect(page.get_by_role("status")).to_contain_text(f"S-010442 merged into {stays}.")
    page.get_by_text("Undo the merge of S-010442").click()
    page.get_by_label("Reason").first.fill("two after all")
    page.locator("form:not([data-report] form)").get_by_role("button", name="Undo").first.click()
    expect(page.get_by_role("status")).to_contain_text("S-010442 has its own stock again.")
    assert Merge.objects.get(item__stock_number="S-010442").undone_by_name == "ines"
    assert is_sound(page)


def test_a_manager_runs_an_item_down_from_the_table_and_undoes_it(open_page):
    session = small_plant().session
    bored, bushed, _ = three_bores_and_one_bushed()
    calculate(session, ["/planning/variety/?general=1"])
    page = open_page("/planning/variety/?general=1", session=session, size=PHONE)
    row = page.get_by_role("row", name=bushed.stock_number).first
    expect(row).to_contain_text("for a bush")
    row.get_by_role("link").click()
    page.get_by_text("Run down items").click()
    for one in bored[1:]:
        page.get_by_role("checkbox", name=one.stock_number).uncheck()
    page.get_by_label("Reason").first.fill("one for a bush serves")
    assert is_sound(page)
    page.get_by_role("button", name="Run down").click()
    expect(page.get_by_role("status")).to_contain_text(f"Run down: {bored[0].stock_number}.")
    page.locator("#run-downs").get_by_label("Reason").fill("it runs again")
    page.locator("#run-downs").get_by_role("button", name="Undo").click()
    expect(page.get_by_role("status")).to_contain_text(f"{bored[0].stock_number} is active again.")
    assert (RunDown.objects.count(), Item.objects.filter(lifecycle="run_down").count()) == (1, 0)

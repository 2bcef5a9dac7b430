"""How many to keep, as a manager goes: what waits, why, decide; with script and without, on a phone and on paper."""

import pytest

from inventory.models import StockPolicy
from tests.browser.conftest import DESK, PHONE
from tests.browser.planning_plant import planning_plant
from tests.browser.test_pages import HEAVIEST_PAGE_BYTES, serious, sideways, small_targets

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_every_page_keeps_nobody_out(open_page, size, scheme):
    kept = planning_plant()
    page = open_page("/", session=kept.session, size=size, scheme=scheme)
    for path in kept.pages:
        page.goto(path)
        page.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true; })")
        assert (path, serious(page), sideways(page), small_targets(page)) == (path, [], False, [])
        assert page.locator("h1").count() == 1


def test_pages_do_not_scroll_sideways_at_four_times_the_size(open_page):
    kept = planning_plant()
    page = open_page("/", session=kept.session, size=(320, 256))
    for path in kept.pages:
        page.goto(path)
        assert (path, sideways(page)) == (path, False)


def test_pages_with_all_that_they_load_stay_light(open_page):
    kept = planning_plant()
    for path in ("/planning/", f"/planning/{kept.waiting.pk}/"):
        page = open_page("/login/", session=kept.session)
        loaded = []
        page.on("response", lambda response, loaded=loaded: loaded.append(len(response.body())))
        page.goto(path)
        page.wait_for_load_state("networkidle")
        assert 5_000 < sum(loaded) < HEAVIEST_PAGE_BYTES


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_a_manager_goes_from_what_waits_to_a_decision(open_page, script):
    kept = planning_plant()
    page = open_page("/", session=kept.session, script=script)
    page.get_by_role("link", name="How many to keep").click()
    page.select_option("#importance", "vital")
    page.get_by_role("button", name="Show these").click()
    assert page.locator(".waits tbody tr").count() == 1
    page.get_by_role("link", name=kept.waiting.item.stock_number).click()
    page.get_by_role("button", name="Set reorder point 1, up to 2").click()
    assert "Accepted by ines" in page.locator("#decide-panel").inner_text()
    assert StockPolicy.objects.get(item=kept.waiting.item).order_up_to == 2


def test_what_is_wrong_leads_to_its_field_which_stands_open(open_page):
    kept = planning_plant()
    page = open_page(f"/planning/{kept.waiting.pk}/", session=kept.session, size=PHONE)
    page.get_by_text("Set other levels").click()
    page.fill("#amend-reorder-point", "4")
    page.fill("#amend-order-up-to", "3")
    page.fill("#amend-reason", "The kiln is rebuilt")
    page.get_by_role("button", name="Set these").click()
    page.get_by_role("link", name="It must be above reorder_point").click()
    assert page.evaluate("document.activeElement.id") == "amend-order-up-to"
    assert page.input_value("#amend-reason") == "The kiln is rebuilt"


def test_the_charts_are_drawn_and_their_figures_stand_in_tables(open_page):
    kept = planning_plant()
    page = open_page(f"/planning/{kept.waiting.pk}/", session=kept.session)
    charts = page.locator("svg.chart")
    assert charts.count() == 3
    assert all(charts.nth(place).bounding_box()["width"] > 300 for place in range(3))
    page.get_by_text("The same as a table").first.click()
    assert page.get_by_role("row", name="2019 1 0 1").is_visible()


def test_a_reorder_list_prints_without_its_buttons(open_page):
    kept = planning_plant()
    page = open_page("/planning/reorder/", session=kept.session)
    page.emulate_media(media="print")
    assert page.locator("table.orders").first.is_visible()
    assert not page.locator(".switch").first.is_visible()
    assert page.locator("p.only-print").is_visible()

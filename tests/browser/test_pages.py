"""What is asked of a page; `test_walks.py` asks it of every page."""

import pytest

from tests.browser.accessibility import violations
from tests.browser.conftest import PHONE
from tests.browser.plant import small_plant

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PAGES = [
    "/",
    "/?q=sprocket",
    "/?q=nothing+like+it",
    "/positions/STEEP-EL1-D1-DRV/",
    "/positions/STEEP-EL1-D1-DRV/?order=ready&at=2026-11-28T02:10",
    "/positions/STEEP-EL1-D1-DRV/?at=soon&counter=NOWHERE",
    "/positions/STEEP-EL1-D1-DRV/?part=41-0110",
    "/positions/STEEP-EL1-D1-DVN/",
    "/positions/DRESS-HO1-D1-DRV/",
    "/drives/STEEP-EL1-D1/",
    "/drives/STEEP-EL1-D1/wear-strip/",
    "/items/41-0105/",
    "/items/41-0105/template/",
    "/items/51-0105/",
    "/identify/",
    "/identify/?teeth=17&strands=1",
    "/identify/?teeth=17&strands=1&worn=true&outside_diameter_mm=75.4",
    "/identify/?teeth=17&strands=1&worn=true&outside_diameter_mm=75.4&tooth_width_mm=7.1&caliper_diameter_mm=60.0",
    "/identify/?teeth=0",
    "/counter/issue/?item=41-0115&position=STEEP-EL1-D1-DRV",
    "/counter/transfer/?item=41-0105",
    "/counter/shift/",
    "/lists/",
    "/lists/items/",
]
HEAVIEST_PAGE_BYTES = 100_000


COLOUR_RULES = ["color-contrast", "link-in-text-block"]


def serious(page):
    """What is wrong in light, by every rule, and in dark, by the rules that look at colours."""
    page.emulate_media(color_scheme="light")
    light = serious_by_rules(page)
    page.emulate_media(color_scheme="dark")
    return light + serious_by_rules(page, runOnly=COLOUR_RULES)


def serious_by_rules(page, **options):
    return [
        (one["id"], [node["target"] for node in one["nodes"]])
        for one in violations(page, **options)
        if one["impact"] in ("serious", "critical")
    ]


def sideways(page):
    return page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")


def small_targets(page):
    """Buttons, fields and links that stand alone and are lower than a gloved finger needs; a tick is as high as its words."""
    return page.evaluate(
        """() => [...document.querySelectorAll("button, input:not([type=hidden]), select, summary, .button, .tabs a, .hits a, .link")]
        .filter(e => e.offsetParent && (e.closest("label.tick") || e).getBoundingClientRect().height < 43.5).map(e => e.outerHTML.slice(0, 80))"""
    )


def test_the_login_page_is_accessible(open_page):
    page = open_page("/login/", size=PHONE)
    assert (serious(page), sideways(page)) == ([], False)
    page.click("main button")
    assert (serious(page), sideways(page)) == ([], False)


def test_a_page_with_all_that_it_loads_stays_light(open_page):
    plant = small_plant()
    page = open_page("/login/", session=plant.session)
    loaded = []
    page.on("response", lambda response: loaded.append((response.url, len(response.body()))))
    page.goto("/positions/STEEP-EL1-D1-DRV/")
    page.wait_for_load_state("networkidle")
    assert 5_000 < sum(size for _, size in loaded) < HEAVIEST_PAGE_BYTES
    assert [url for url, _ in loaded if not url.startswith(page.url.split("/positions")[0])] == []


def test_administration_works_under_the_same_policy(open_page):
    plant = small_plant()
    page = open_page("/admin/", session=plant.session)
    for path in ("/admin/inventory/item/", f"/admin/inventory/item/{plant.drop_in.pk}/change/"):
        page.goto(path)
        assert page.locator("#content h1").is_visible()


def test_the_login_of_administration_loads_under_the_same_policy(open_page):
    page = open_page("/admin/login/")
    assert page.locator("input[name=username]").is_visible()

"""With PROOF=long every page, else the main ones, at a desk in light and English; one of each kind on a phone in dark and German: words, colours and sizes.

Source of the rules: WCAG 2.0 to 2.2, levels A and AA, as far as axe-core checks them; 44 px for what is touched is our own.
"""

import pytest
from playwright.sync_api import expect

from tests.admin_pages import address, models_of
from tests.browser.accessibility import violations
from tests.browser.conftest import DESK, PHONE
from tests.browser.planning_plant import TAG, calculated_plant
from tests.browser.plant import small_plant
from tests.browser.test_pages import COLOUR_RULES, HEAVIEST_PAGE_BYTES, PAGES, sideways, small_targets
from tests.every_page import one_of_each, screens
from tests.examples import IS_LONG
from tests.factories import RecommendationFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
EVERY_RULE = {"runOnly": {"type": "tag", "values": WCAG}, "rules": {"target-size": {"enabled": True}}}
FOUR_TIMES = {"width": 320, "height": 256}
"""A desk of 1280 x 1024 at 400 %. Source: WCAG 2.2, success criterion 1.4.10."""
CUT = """() => [...document.querySelectorAll("main *")].filter(e => {
    const box = e.getBoundingClientRect();
    if (!box.width || e.closest(".visually-hidden") || !e.textContent.trim()) return false;
    if (e.tagName === "text") {
        const svg = e.ownerSVGElement.getBoundingClientRect();
        return box.left < svg.left - 2 || box.right > svg.right + 2 || box.bottom > svg.bottom + 2 || box.top < svg.top - 2;
    }
    const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    const hides = ["hidden", "clip"].includes(getComputedStyle(e).overflowX);
    return own && hides && e.scrollWidth > e.clientWidth + 1 && !e.closest("thead");
}).map(e => e.outerHTML.slice(0, 80))"""


NO_RING = """() => [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]")]
.filter(e => {
    if (e.tabIndex > 0) return true;
    if (e.tabIndex < 0 || e.disabled || !e.getBoundingClientRect().width) return false;
    e.focus();
    const style = getComputedStyle(e);
    return document.activeElement === e && (style.outlineStyle === "none" || parseFloat(style.outlineWidth) < 2);
}).map(e => e.outerHTML.slice(0, 80))"""
"""What a keyboard reaches without a sign of it, or out of the order of the page. Source: WCAG 2.2, 2.4.3 and 2.4.7."""
ADMINISTRATION = frozenset({"/admin/", "/admin/inventory/item/", "/admin/drives/drive/"})
"""Looked at in each run; every list and form of it with PROOF=long."""


def forms():
    """Every list and form of the administration, with the form of a record where there is one."""
    for model in models_of("inventory", "drives", "api", "auth"):
        yield address(model, "changelist")
        yield address(model, "add")
        if one := model.objects.order_by("pk").first():
            yield address(model, "change", one.pk)


def faults_of(page, path, language):
    """What is wrong with a page, whatever its size and colours are."""
    answer = page.goto(path)
    page.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true; })")
    return {
        "status": answer.status >= 500,
        "bytes": len(answer.body()) > HEAVIEST_PAGE_BYTES,
        "language": not page.locator("html").get_attribute("lang").startswith(language),
        "headings": is_ours(path) and page.locator("h1").count() != 1,
        "sideways": sideways(page),
        "cut": page.evaluate(CUT),
        "small": small_targets(page) if is_ours(path) else [],
        "ring": page.evaluate(NO_RING) if is_ours(path) else [],
    }


def is_ours(path):
    return not path.startswith("/admin/")


def broken_rules(page, options):
    return [(one["id"], one["nodes"][0]["html"][:100]) for one in violations(page, **options)]


def named(found):
    return {name: fault for name, fault in found.items() if fault}


def test_every_page_is_sound_at_a_desk_and_at_four_times_its_size(open_page):
    plant = calculated_plant()
    paths = {path for path in (*PAGES, *plant.pages) if "?" not in path}
    if IS_LONG:
        paths |= {*PAGES, *plant.pages}
        paths |= {*screens(TAG, plant.plant.drop_in.stock_number)}
        assert len(paths) > 100
    page = open_page("/", session=plant.session)
    faults = {}
    for path in sorted(paths | ADMINISTRATION):
        found = faults_of(page, path, "en")
        found["rules"] = broken_rules(page, EVERY_RULE)
        if is_ours(path):
            page.set_viewport_size(FOUR_TIMES)
            found["sideways at 400 %"] = sideways(page)
            page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
        faults[path] = named(found)
    assert named(faults) == {}


@pytest.mark.skipif(not IS_LONG, reason="PROOF=long looks at every form")
def test_every_form_of_the_administration_is_sound(open_page):
    page = open_page("/", session=calculated_plant().session)
    faults = {}
    for path in forms():
        # Asked beside the page, which would complain: a record that nobody adds or changes by hand.
        if page.request.get(path).status == 403:
            continue
        answer = page.goto(path)
        faults[path] = named({"status": answer.status != 200, "rules": broken_rules(page, EVERY_RULE)})
    assert len(faults) > 100
    assert named(faults) == {}


def test_what_is_done_on_a_page_is_done_without_script_too(open_page):
    plant = small_plant()
    record = RecommendationFactory(item=plant.drop_in)
    page = open_page(f"/positions/{TAG}/", session=plant.session, script=False)
    page.locator("form.take button").first.click()
    expect(page.locator("[data-report]")).to_contain_text("Issued 1")
    page.locator("[data-report] button").click()
    expect(page.locator("[data-report]")).to_contain_text("Undone")
    page.goto(f"/counter/issue/?item={plant.trap.stock_number}&position={TAG}")
    page.locator("form.act button").click()
    expect(page.locator("#faults")).to_contain_text("Who allows it: This field is required.")
    page.goto(f"/planning/{record.pk}/")
    page.locator("#decide-panel button").first.click()
    expect(page.locator("[data-report]")).to_contain_text("Decided.")
    page.goto("/identify/?teeth=17&strands=1")
    page.get_by_role("button", name="No", exact=True).click()
    expect(page.get_by_role("textbox", name="Outside diameter")).to_be_visible()


@pytest.mark.skipif(not IS_LONG, reason="PROOF=long looks at every page")
def test_one_of_each_page_is_sound_on_a_phone_in_the_dark(open_page):
    """In German, whose words are longer."""
    plant = calculated_plant()
    page = open_page("/", session=plant.session, size=PHONE, scheme="dark", language="de")
    faults = {}
    for path in one_of_each(TAG, plant.plant.drop_in.stock_number):
        found = faults_of(page, path, "de")
        found["rules"] = broken_rules(page, {"runOnly": COLOUR_RULES})
        faults[path] = named(found)
    assert named(faults) == {}

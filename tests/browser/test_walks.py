"""Every page there is, at a desk in light and English and on a phone in dark and German, in words, colours and sizes.

Source of the rules: WCAG 2.0 to 2.2, levels A and AA, as far as axe-core checks them; 44 px for what is touched is our own.
"""

from dataclasses import dataclass
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.conftest import DESK, PHONE
from tests.browser.planning_plant import TAG, planning_plant
from tests.browser.test_pages import COLOUR_RULES, HEAVIEST_PAGE_BYTES, PAGES, sideways, small_targets
from tests.every_page import KEYS, screens

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


@dataclass(frozen=True)
class Look:
    language: str
    size: tuple[int, int]
    scheme: str
    rules: dict[str, Any]
    more: frozenset[str] = frozenset()


ADMINISTRATION = frozenset({"/admin/", "/admin/inventory/item/", "/admin/drives/drive/"})
"""Every page of it is opened by the tests of its app; these three are looked at."""
LOOKS = (
    Look("en", DESK, "light", EVERY_RULE, ADMINISTRATION),
    Look("de", PHONE, "dark", {"runOnly": COLOUR_RULES}),
)


def faults_of(page, path, look):
    """What is wrong with a page, by what was asked of it."""
    answer = page.goto(path)
    page.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true; })")
    ours = not path.startswith("/admin/")
    found = {
        "status": answer.status >= 500,
        "bytes": len(answer.body()) > HEAVIEST_PAGE_BYTES,
        "language": not page.locator("html").get_attribute("lang").startswith(look.language),
        "headings": ours and page.locator("h1").count() != 1,
        "rules": [
            (one["id"], one["nodes"][0]["html"][:100])
            for one in Axe().run(page, options=look.rules).response["violations"]
        ],
        "sideways": sideways(page),
        "cut": page.evaluate(CUT),
        "small": small_targets(page) if ours else [],
    }
    if look.size == DESK and ours:
        page.set_viewport_size(FOUR_TIMES)
        found["sideways at 400 %"] = sideways(page)
        page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
    return {name: fault for name, fault in found.items() if fault}


def test_every_page_is_sound(open_page):
    plant = planning_plant()
    ours = {*screens(TAG, plant.plant.drop_in.stock_number), *PAGES, *plant.pages}
    assert len(ours) > 100
    assert all(model.objects.exists() for model in KEYS.values())
    faults = {}
    for look in LOOKS:
        page = open_page(
            "/", session=plant.session, size=look.size, scheme=look.scheme, language=look.language
        )
        for path in sorted(ours | look.more):
            found = faults_of(page, path, look)
            if found:
                faults[look.language, path] = found
    assert faults == {}

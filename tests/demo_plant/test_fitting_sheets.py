"""Fitting sheets of the demo plant, printed: one page of A4, also with most work and most to review."""

import re
from pathlib import Path

import pytest
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Browser

from drives.substitutes.offers import substitutes_for_position
from drives.substitutes.position_requirement import positions_with_requirements
from inventory.interchange.vocabulary import Grade
from tests.browser.pdf_pages import page_count, page_sizes_mm
from tests.chromium import IS_LONG
from tests.factories import UserFactory

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.browser,
    # A browser that is open keeps its loop running under every test that comes after it.
    pytest.mark.skipif(not IS_LONG, reason="PROOF=long prints the sheets of the demo plant"),
]

STYLES = Path(__file__).resolve().parents[2] / "api/screens/static"
LINK = re.compile(r'<link rel="stylesheet" href="/static/(\w+)[\w.]*\.css">')
PLACES = 40


def with_styles(html: str) -> str:
    return LINK.sub(lambda link: f"<style>{(STYLES / f'{link[1]}.css').read_text()}</style>", html)


def longest_sheets() -> list[tuple[str, str]]:
    """Of each grade, place and part with the most work and the most that speaks against it."""
    found: dict[Grade, tuple[int, str, str]] = {}
    for place in positions_with_requirements().filter(drive__lifting=False)[:PLACES]:
        for offer in substitutes_for_position(place, here_id=None, at=timezone.now()).offers:
            verdict = offer.candidate.verdict
            length = 2 * len(verdict.work) + len(verdict.deciding)
            if verdict.grade is not Grade.UNFIT and length >= found.get(verdict.grade, (0,))[0]:
                found[verdict.grade] = length, place.tag, offer.candidate.item.stock_number
    return [(tag, number) for _, tag, number in found.values()]


def test_a_sheet_is_one_printed_page_without_a_word_on_stock_policy(
    demo_plant: None, browser: Browser
) -> None:
    client, page = Client(), browser.new_page()
    client.force_login(UserFactory())
    sheets, told_whom_to_ask = longest_sheets(), 0
    try:
        for tag, number in sheets:
            answer = client.get(f"/positions/{tag}/", {"part": number})
            page.set_content(with_styles(answer.content.decode()))
            page.emulate_media(media="print")
            pdf = page.pdf(prefer_css_page_size=True)
            assert (tag, number, page_count(pdf)) == (tag, number, 1)
            assert page_sizes_mm(pdf) == [pytest.approx((210, 297), abs=0.2)]
            shown = page.locator("main").inner_text()
            assert "Check in the hand" in shown
            assert "Slack:" in shown
            assert "reorder point" not in shown.lower()
            told_whom_to_ask += "Approved by" in shown and "fitting shop, +49" in shown
    finally:
        page.close()
    assert (len(sheets), told_whom_to_ask) == (3, 1)
